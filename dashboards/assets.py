"""The files all pages share, put once into the output folder: plotly, styles, scripts."""

from collections.abc import Iterator
from pathlib import Path

STATIC = Path(__file__).parent / "static"
FOLDER = "assets"
PLOTLY_FILE = "plotly.min.js"


def write_assets(out: Path) -> None:
    """Put what the pages refer to into ``out/assets``; a file already there as it is, stays."""
    folder = out / FOLDER
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in _assets():
        target = folder / name
        if not target.is_file() or target.read_bytes() != content:
            target.write_bytes(content)


def asset_names() -> list[str]:
    """Names of the files all pages share."""
    shared = [source.name for source in sorted(STATIC.iterdir())]
    return [*(name for name in shared if name.endswith((".css", ".js"))), PLOTLY_FILE]


def _assets() -> Iterator[tuple[str, bytes]]:
    from plotly.offline import get_plotlyjs

    for source in sorted(STATIC.iterdir()):
        if source.suffix in {".css", ".js"}:
            yield source.name, source.read_bytes()
    yield PLOTLY_FILE, get_plotlyjs().encode("utf-8")

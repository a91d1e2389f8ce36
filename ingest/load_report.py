"""What a load did: counts, rejects, notes and the weeks it touched."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass, field

from ingest.installed_base import Problem
from ingest.ledger import Entry, FileResult
from ingest.rejects import Reject

MAX_LISTED_REJECTS = 1000


@dataclass(frozen=True, kw_only=True)
class LoadReport:
    """What a load did.

    Attributes
    ----------
    n_files, n_files_new, n_files_unchanged : int
        Files given; of them read now; of them loaded before, byte for byte.
    rows_in : int
        Rows in the files read now: kept + repeated + conflicting + rejected. A long table's rows
        are counted as the samples they make.
    rows_conflicting : int
        Rows left out as another value of the same pump and instant came first.
    rejects : tuple of Problem
        Rows, cells and files not loaded as they stood; the first of them, all are in the store.
    n_rejects : int
        How many there were.
    notes : tuple of str
        What was not read, though nothing is wrong with it.
    weeks_touched : tuple of str
        ISO weeks (site-local) that got samples, in order.
    """

    n_files: int = 0
    n_files_new: int = 0
    n_files_unchanged: int = 0
    rows_in: int = 0
    rows_kept: int = 0
    rows_repeated: int = 0
    rows_conflicting: int = 0
    rows_rejected: int = 0
    rejects: tuple[Problem, ...] = ()
    n_rejects: int = 0
    notes: tuple[str, ...] = ()
    weeks_touched: tuple[str, ...] = ()


@dataclass
class Tally:
    """What a load has done so far."""

    totals: FileResult = field(default_factory=FileResult)
    rejects: list[Problem] = field(default_factory=list)
    n_rejects: int = 0
    notes: dict[str, list[str]] = field(default_factory=dict)
    weeks: set[str] = field(default_factory=set)

    def note(self, text: str, name: str) -> None:
        """Note something that is not wrong of a file."""
        self.notes.setdefault(text, []).append(name)

    def add(self, entry: Entry, done: FileResult, rejects: Sequence[Reject]) -> None:
        """Add what became of a file."""
        self.totals = self.totals.plus(done)
        self.n_rejects += len(rejects)
        room = MAX_LISTED_REJECTS - len(self.rejects)
        self.rejects += [reject.as_problem(entry.name) for reject in rejects[:room]]

    def report(self, n_files: int, n_unchanged: int, notes: Sequence[str]) -> LoadReport:
        """Return what was done, with notes that are of no one file."""
        return LoadReport(
            n_files=n_files,
            n_files_new=n_files - n_unchanged,
            n_files_unchanged=n_unchanged,
            **asdict(self.totals),
            rejects=tuple(self.rejects),
            n_rejects=self.n_rejects,
            notes=(*notes, *(_note(text, names) for text, names in self.notes.items())),
            weeks_touched=tuple(sorted(self.weeks)),
        )


def _note(text: str, names: Sequence[str]) -> str:
    more = f" and {len(names) - 1} more files" if len(names) > 1 else ""
    return f"{names[0]}{more}: {text}."

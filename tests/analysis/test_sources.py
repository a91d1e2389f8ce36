"""The list of sources covers what the limits name."""

from analysis import limits
from analysis.limits import Limit
from analysis.sources import SOURCES


def test_every_source_is_listed_once_and_says_how_it_was_checked():
    ids = [source.source_id for source in SOURCES]

    assert len(set(ids)) == len(ids)
    for source in SOURCES:
        assert source.checked.startswith(("read at ", "memory", "common practice", "text-book"))


def test_every_limit_names_a_listed_source_or_says_it_is_ours():
    known = [source.source_id for source in SOURCES]
    named = {name: value for name, value in vars(limits).items() if isinstance(value, Limit)}

    unknown = {
        name: limit.source
        for name, limit in named.items()
        if not limit.source.startswith("ours: ") and not any(i in limit.source for i in known)
    }

    assert unknown == {}
    assert named

import pytest

from analysis import limits
from analysis.limits import Limit

ALL = {name: value for name, value in vars(limits).items() if isinstance(value, Limit)}
STANDS = (
    "NEMA", "NEC", "ANSI", "IEC", "IEEE", "EN 50160", "EPA", "IWA", "MIL-HDBK", "NBSIR", "NIST",
    "gas law", "submersible motor", "starts table", "well-tank standard", "common practice",
    "ours:",
)  # fmt: skip


def test_there_are_limits_to_look_at():
    assert len(ALL) > 50


@pytest.mark.parametrize("name", sorted(ALL))
def test_every_limit_says_its_unit_and_where_it_comes_from(name):
    limit = ALL[name]

    assert limit.unit.strip()
    assert any(stand in limit.source for stand in STANDS), limit.source


@pytest.mark.parametrize("name", sorted(n for n in ALL if ALL[n].source.startswith("ours")))
def test_our_own_judgement_gives_its_reason(name):
    assert len(ALL[name].source.removeprefix("ours:").split()) >= 2


@pytest.mark.parametrize(
    ("limit", "published"),
    [
        (limits.RUNNING_TOILET_L_PER_DAY, 200 * 3.785412),  # EPA WaterSense (2012): 200 gal a day
        (limits.NOTABLE_LEAK_L_PER_DAY, 90 * 3.785412),  # the same: 90 gal a day
        (limits.DRIPPING_TAP_L_PER_DAY, 3000 * 3.785412 / 365.25),  # the same: 3,000 gal a year
        (limits.STARTS_PER_DAY, 300),  # submersible motor starts table, well-tank standard text
        (limits.JOINT_HEAT_W, 5),  # NBSIR 76-1011 (1976): a glow at 0.8 A
        (limits.MIN_RUN_S, 60),  # common practice, two trade pages
    ],
)
def test_published_figures_are_kept_as_published(limit, published):
    assert limit.value == pytest.approx(published, abs=0.05)

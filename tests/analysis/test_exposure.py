import numpy as np
import pytest

from analysis.exposure import Watch, Watched, expected, ratio, watch_of
from analysis.fault_history import FaultHistory, Spell
from analysis.findings import Kind
from analysis.reliability.rates import stratified_tails


def pump(pump_id: str, judged: range, *begins: int) -> FaultHistory:
    return FaultHistory(
        pump_id=pump_id,
        kind=Kind.LEAK,
        judged=tuple(judged),
        spells=tuple(Spell(begins=week, ends=week) for week in begins),
        causes=dict.fromkeys(begins, ""),
        events=len(begins),
    )


def strata(watches, inside, level_of=None):
    watched = Watched(watches)
    places = [n for n, pump_id in enumerate(watched.pumps) if pump_id in inside]
    return watched.strata(np.array(places), level_of)


def test_a_pump_is_watched_until_its_first_fault_and_counts_once():
    watch = watch_of(pump("P", range(100, 110), 103, 107), last_week=109)

    assert watch.tally == {(True, 0): (0, 1.0), (False, 0): (1, 3.0)}


def test_what_was_there_at_the_first_look_is_counted_apart():
    watch = watch_of(pump("P", range(100, 110), 100), last_week=109)

    assert watch.tally == {(True, 0): (1, 1.0)}


def test_quarters_are_counted_apart_so_that_a_season_is_no_difference():
    # both rates are alike in each quarter; the group was mostly watched in the busy one
    busy = [pump(f"A{n}", range(88, 101), *([94] if n < 8 else [])) for n in range(20)]
    usual = [pump(f"B{n}", range(75, 101), *([94] if n < 8 else [])) for n in range(20)]
    calm = [pump(f"C{n}", range(49, 88)) for n in range(60)]
    watches = [watch_of(h, last_week=100) for h in (*busy, *usual, *calm)]
    inside = {h.pump_id for h in busy}

    rows = strata(watches, inside)

    assert stratified_tails(rows).more > 0.3
    assert ratio(rows) == pytest.approx(1.0, rel=0.15)


def test_the_fleets_own_rate_expects_what_the_fleet_has():
    watches = [watch_of(pump(f"P{n}", range(100, 110), *([105] if n < 4 else [])), 109) for n in range(10)]  # fmt: skip  # noqa: E501

    rows = strata(watches, {w.pump_id for w in watches})

    assert expected(rows) == pytest.approx(4.0)


def test_pumps_with_one_tally_or_with_equal_ones_add_up_alike():
    shared = watch_of(pump("A", range(100, 110), 105), last_week=109).tally
    alike = [Watch(pump_id=f"P{n}", tally=shared) for n in range(6)]
    equal = [Watch(pump_id=f"P{n}", tally=dict(shared)) for n in range(6)]
    level_of = {f"P{n}": "ab"[n % 2] for n in range(6)}
    inside = {"P0", "P1", "P2"}

    assert strata(alike, inside) == strata(equal, inside)
    assert strata(alike, inside, level_of) == strata(equal, inside, level_of)
    assert sum(row.events for row in strata(alike, inside)) == 3
    assert sum(row.others for row in strata(alike, inside)) == 3

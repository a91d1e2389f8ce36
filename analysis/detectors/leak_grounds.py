"""How sure a leak is: grounds for and against, from the nights, the restarts and the falls."""

from collections.abc import Sequence

import numpy as np

from analysis.case import Case
from analysis.detectors.causes import CauseCall
from analysis.detectors.certainty import Ground
from analysis.detectors.leak_causes import CHECK_VALVE
from analysis.detectors.nights import LEAKING, NightRead, NightSays, night_says
from analysis.few import median_of
from analysis.limits import (
    FLOOR_OVER_F0_HZ,
    FLOOR_OVER_MIN_HZ,
    FLOOR_SPREAD_HZ,
    IRREGULAR_CV,
    LEAK_MIN_LPM,
    LEAK_NIGHTS,
    NIGHTS_NEEDED,
    QUICK_AFTER_STOP,
    REGULAR_CV,
    RESTART_SAMPLES,
    STEADY_NIGHTS_SPREAD,
    SUCTION_RISE_KPA,
)
from analysis.wording import duration_text

_START, _START_RUNNING = 0.45, 0.4
_MANY_NIGHTS = 5
_HELD_TOO_HIGH = 1.03  # of the setting: minimum speed makes more than asked, so it cannot stop
_MAD_TO_SD = 1.4826


def leak_grounds(
    case: Case, nights: Sequence[NightRead], spell: Sequence[NightRead], cause: CauseCall
) -> tuple[float, list[Ground]]:
    """Starting confidence and every ground for and against.

    Parameters
    ----------
    nights, spell : sequence of NightRead
        All nights of the week, and those that leak.
    cause : CauseCall
        A leaking check valve differs from stop to stop, which then does not speak for use.
    """
    seen = [night for night in nights if night.says is not NightSays.UNSEEN]
    n_runs = sum(night.says is NightSays.RUNS for night in spell)
    shared = [
        Ground(len(spell) == len(seen), 0.1, f"There on all {len(seen)} nights that were logged"),
        Ground(len(spell) >= _MANY_NIGHTS, 0.1, f"Seen on {len(spell)} nights of the week"),
    ]
    if 2 * n_runs > len(spell):
        return _START_RUNNING, shared + _running_grounds(case, spell)
    is_valve = cause.cause == CHECK_VALVE
    if not any(night.says in LEAKING for night in spell):
        return _START, _valve_grounds(case, spell)
    return _START, [
        *shared,
        *_restart_grounds(case, is_valve),
        *_fall_grounds(case, spell, is_valve),
        Ground(is_valve and cause.share >= 0.8, 0.1, "It falls as a leaking check valve does"),
        Ground(_held_before(case), 0.05, "Earlier weeks held flat at night"),
    ]


def _valve_grounds(case: Case, spell: Sequence[NightRead]) -> list[Ground]:
    """Grounds for a check valve that seats on some stops, from the stops of all hours."""
    quick = case.week.fall_first_over_last
    return [
        Ground(len(spell) >= _MANY_NIGHTS, 0.1, f"Seen on {len(spell)} days of the week"),
        Ground(
            quick is not None and quick >= QUICK_AFTER_STOP.value,
            0.15,
            "Pressure falls quickest right after a stop, before anybody draws",
        ),
        Ground(
            case.week.has_suction
            and (case.week.suction_rise_kpa or 0.0) >= SUCTION_RISE_KPA.value,
            0.25,
            "Suction pressure rises meanwhile",
        ),
        Ground(
            any(night.says is NightSays.PARTLY for night in spell),
            0.05,
            "At night too some stops fall and others hold",
        ),
    ]


def _restart_grounds(case: Case, is_valve: bool) -> list[Ground]:
    cv, interval_s = case.week.quiet_restart_cv, case.week.quiet_restart_s_median
    if cv is None or interval_s is None:
        return []
    if interval_s < RESTART_SAMPLES.value * case.week.log_interval_s:
        return []  # may be an alias of a faster cycle
    return [
        Ground(
            cv <= REGULAR_CV.value, 0.15, f"It restarts every {duration_text(interval_s)}, evenly"
        ),
        Ground(
            cv >= IRREGULAR_CV.value and not is_valve, -0.15, "Restarts come unevenly, as with use"
        ),
    ]


def _fall_grounds(case: Case, spell: Sequence[NightRead], is_valve: bool) -> list[Ground]:
    cv = case.week.quiet_fall_cv
    spread = _spread([night.day.night_fall_p50_kpa_per_min for night in spell])
    return [
        Ground(
            not any(night.says is NightSays.PARTLY for night in spell),
            0.1,
            "Not even the quietest ten minutes of those nights hold flat",
        ),
        Ground(cv is not None and cv <= REGULAR_CV.value, 0.1, "All quiet falls are alike"),
        Ground(
            cv is not None and cv >= IRREGULAR_CV.value and not is_valve,
            -0.1,
            "Falls differ from stop to stop, as with use",
        ),
        Ground(
            spread is not None and spread <= STEADY_NIGHTS_SPREAD.value,
            0.1,
            "The same from night to night",
        ),
        Ground(
            spread is not None and spread > 2 * STEADY_NIGHTS_SPREAD.value and not is_valve,
            -0.15,
            "Not the same from night to night",
        ),
    ]


def _running_grounds(case: Case, spell: Sequence[NightRead]) -> list[Ground]:
    """Grounds where the pump never stops: how low and how steady its floor is."""
    floors_hz = [n.day.night_floor_hz for n in spell if n.day.night_floor_hz is not None]
    floor_hz = median_of(floors_hz) if floors_hz else None
    f0_hz = _no_flow_hz(case)
    over_hz = None if floor_hz is None or f0_hz is None else floor_hz - f0_hz
    flows = [n.day.night_flow_floor_lpm for n in spell]
    least_lpm = min((flow for flow in flows if flow is not None), default=None)
    spread_hz = float(np.ptp(floors_hz)) if floors_hz else None
    return [
        Ground(
            least_lpm is not None and least_lpm > LEAK_MIN_LPM.value,
            0.25,
            "The flow meter never comes to rest",
        ),
        Ground(
            least_lpm is not None and least_lpm <= LEAK_MIN_LPM.value,
            -0.35,
            "The flow meter comes to rest at night",
        ),
        Ground(
            spread_hz is not None and spread_hz <= FLOOR_SPREAD_HZ.value,
            0.1,
            "Its lowest speed at night is the same every night",
        ),
        Ground(
            spread_hz is not None and spread_hz > 2 * FLOOR_SPREAD_HZ.value,
            -0.2,
            "Its lowest speed at night wanders from night to night",
        ),
        Ground(
            over_hz is not None and over_hz <= FLOOR_OVER_F0_HZ.value,
            0.15,
            "It runs just above the speed at which it moves no water",
        ),
        Ground(
            over_hz is not None and over_hz > FLOOR_OVER_F0_HZ.value,
            -0.35,
            "It runs far above the speed at which it moves no water, as with use",
        ),
        Ground(over_hz is None, -0.1, "Its no-flow speed has never been seen"),
        Ground(_cannot_stop(case, floor_hz), -0.6, "Its minimum speed may keep it from stopping"),
        Ground(_held_before(case), 0.1, "Earlier weeks held flat at night"),
    ]


def _cannot_stop(case: Case, floor_hz: float | None) -> bool:
    """At minimum speed the pump may still make the set pressure, and then never finds no flow."""
    setting_kpa, held_kpa = case.pump.pressure_setting_kpa, case.week.held_pressure_kpa
    too_high = (
        setting_kpa is not None
        and held_kpa is not None
        and held_kpa > _HELD_TOO_HIGH * setting_kpa
    )
    pinned = floor_hz is not None and floor_hz <= case.pump.min_hz + FLOOR_OVER_MIN_HZ.value
    return too_high or pinned


def _no_flow_hz(case: Case) -> float | None:
    known = [week.f0_hz for week in (*case.past, case.week) if week.f0_hz is not None]
    return median_of(known) if known else None


def _held_before(case: Case) -> bool:
    """Most nights of the weeks before held flat: what is seen now is new."""
    if not case.past:
        return False
    before = [night_says(day, case.past[-1]) for day in case.past_days]
    seen = [says for says in before if says is not NightSays.UNSEEN]
    held = sum(says is NightSays.HOLDS for says in seen)
    return len(seen) >= NIGHTS_NEEDED.value and 2 * held > len(seen)


def _spread(values: Sequence[float | None]) -> float | None:
    """Robust spread over median of the values that are known; None for fewer than three."""
    known = np.asarray([value for value in values if value is not None], dtype=np.float64)
    if known.size < LEAK_NIGHTS.value:
        return None
    middle = float(np.median(known))
    return _MAD_TO_SD * float(np.median(np.abs(known - middle))) / middle if middle > 0 else None

"""How large a leak is: litres where tank or flow meter allow, with a band; else only the slope."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.case import Case
from analysis.detectors.nights import LEAKING, NightRead, NightSays
from analysis.detectors.own_past import own_past
from analysis.detectors.trusted_tank import trusted_tank
from analysis.limits import (
    BIG_LEAK_LPM,
    DRIPPING_TAP_L_PER_DAY,
    FALL_CHANGE,
    FAST_FALL_S,
    LEAK_MIN_LPM,
    NOTABLE_LEAK_L_PER_DAY,
    PRECHARGE_DOUBT_KPA,
    RUNNING_TOILET_L_PER_DAY,
    SHORTEST_RUN_S,
    SLEEP_DRAW_LIKELY_LPM,
)
from analysis.physics.tank import ADIABATIC_RATIO, ATMOSPHERE_KPA

MIN_PER_DAY = 1440.0
BY_CURVE = "pump curve, an estimate"
_NEAR = 1.5  # times a published leak: as near as such figures are to each other


@dataclass(frozen=True, kw_only=True)
class LeakSize:
    """A leak in litres a minute with its band, and what it was read from.

    ``at_most_because`` says why the tank holds less than its register says, and with it each litre
    read from it; blank where nothing says so.
    """

    lpm: float
    low_lpm: float
    high_lpm: float
    basis: str
    at_most_because: str = ""

    @property
    def l_per_day(self) -> float:
        """What runs off in a day."""
        return self.lpm * MIN_PER_DAY


def leak_size(case: Case, nights: Sequence[NightRead]) -> LeakSize | None:
    """Size of the leak of the given nights; None where neither tank, meter nor curve tell."""
    return _by_tank(case, nights) or _by_meter(nights) or _by_curve(case, nights)


def _by_tank(case: Case, nights: Sequence[NightRead]) -> LeakSize | None:
    """Boyle's law on the registered tank, night by night, so that nights with use do not count.

    The band is the nights' own scatter, widened by what a pre-charge may be off and, for falls of
    under a minute, by gas that had no time to warm.
    """
    tank, week = trusted_tank(case), case.week
    flows = _tank_flows_lpm(case, nights)
    if not flows or tank is None:
        return None
    may_miss_runs = week.log_interval_s > SHORTEST_RUN_S.value
    middle_share = 0.75 if may_miss_runs else 0.5  # unseen refills make some nights' falls gentle
    low, middle, high = np.quantile(np.asarray(flows), [0.1, middle_share, 0.9])
    doubt = PRECHARGE_DOUBT_KPA.value / (tank.precharge_kpa + ATMOSPHERE_KPA)
    is_fast = (week.quiet_restart_s_median or FAST_FALL_S.value) < FAST_FALL_S.value
    lpm = float(middle)
    return LeakSize(
        lpm=lpm,
        low_lpm=float(low) * (1 - doubt) / (ADIABATIC_RATIO if is_fast else 1.0),
        high_lpm=float(high) * (1 + doubt),
        basis="tank",
        at_most_because=_why_at_most(case, lpm),
    )


def _why_at_most(case: Case, lpm: float) -> str:
    """Why the tank must hold less than registered, or "".

    Draws that pull the pressure down far faster than before; or more water than a drive takes for
    no flow, which would have kept the pump running.
    """
    if (own_past(case).draw_change or 0.0) >= FALL_CHANGE.value:
        return "draws pull pressure down far faster than before"
    if lpm > SLEEP_DRAW_LIKELY_LPM.value:
        return "with so much running off the drive would hardly have stopped"
    return ""


def _tank_flows_lpm(case: Case, nights: Sequence[NightRead]) -> list[float]:
    """Flow of each leaking night; of each day's stops where the nights themselves hold."""
    if any(night.says in LEAKING for night in nights):
        flows = [n.day.night_leak_lpm or 0.0 for n in nights if n.says is NightSays.FALLS]
    else:
        stiffness = case.week.stored_kpa_per_l or float("inf")
        flows = [(n.day.fall_p50_kpa_per_min or 0.0) / stiffness for n in nights]
    return [flow for flow in flows if flow > 0]


def _by_meter(nights: Sequence[NightRead]) -> LeakSize | None:
    """The least quarter of an hour of each night by the flow meter."""
    flows = [
        night.day.night_flow_floor_lpm
        for night in nights
        if (night.day.night_flow_floor_lpm or 0.0) > LEAK_MIN_LPM.value
    ]
    if not flows:
        return None
    low, middle, high = np.quantile(np.asarray(flows, dtype=np.float64), [0.1, 0.5, 0.9])
    return LeakSize(
        lpm=float(middle), low_lpm=float(low), high_lpm=float(high), basis="flow meter"
    )


def _by_curve(case: Case, nights: Sequence[NightRead]) -> LeakSize | None:
    """Estimate of a leak that never lets the pump stop, by the curve at the nights' lowest speed.

    Never of a small leak: near shut-off the curve is too flat to tell one.
    """
    n_runs = sum(night.says is NightSays.RUNS for night in nights)
    floor_lpm = case.flow.quiet_floor_lpm if case.flow is not None else None
    if 2 * n_runs <= len(nights) or floor_lpm is None or floor_lpm[0] < BIG_LEAK_LPM.value:
        return None
    return LeakSize(lpm=floor_lpm[0], low_lpm=floor_lpm[1], high_lpm=floor_lpm[2], basis=BY_CURVE)


def scale_text(l_per_day: float) -> str:
    """What a leak of this size is like, by published figures."""
    if l_per_day <= _NEAR * DRIPPING_TAP_L_PER_DAY.value:
        return "like a dripping tap"
    if l_per_day < NOTABLE_LEAK_L_PER_DAY.value:
        return "like several dripping taps"
    if l_per_day < RUNNING_TOILET_L_PER_DAY.value / _NEAR:
        return "more than nine homes in ten lose"
    if l_per_day <= _NEAR * RUNNING_TOILET_L_PER_DAY.value:
        return "like a running toilet"
    return "more than a running toilet"

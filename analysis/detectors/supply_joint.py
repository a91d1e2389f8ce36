"""Whether a joint in the supply's wiring is going: loop resistance that grows over weeks."""

from dataclasses import dataclass
from datetime import datetime
from statistics import median

from analysis.case import Case
from analysis.detectors.supply_amps import heavy_supply_a
from analysis.limits import (
    JOINT_GROWTH_PCT,
    JOINT_GROWTH_RATIO,
    JOINT_HEAT_W,
    JOINT_RISING_SHARE,
    PAIRS_MIN,
    PAIRS_USUAL_SHARE,
)
from analysis.records import PumpWeek


@dataclass(frozen=True, kw_only=True)
class JointGrowth:
    """How the loop resistance grew from the first weeks of the record to this one.

    ``heat_w`` is what the grown part turns into heat at the week's heavy draws, ``(R - R0) I^2``
    (Joule's law); between two of three phases, where one joint shows at most so many volts, the
    least it can be.
    """

    from_ohm: float
    to_ohm: float
    from_drop_v: float
    heat_w: float
    n_weeks: int
    since_at: datetime

    @property
    def ratio(self) -> float:
        """Now over then."""
        return self.to_ohm / self.from_ohm


def joint_growth(case: Case, nominal_v: float) -> JointGrowth | None:
    """Growth of the loop resistance that makes heat and is neither season nor chance, or None."""
    weeks = _comparable(case)
    if len(weeks) < 3 or weeks[-1] is not case.week:
        return None
    ohms = [week.loop_resistance_ohm or 0.0 for week in weeks]
    first = weeks[: max(1, len(weeks) // 3)]
    from_ohm = median(week.loop_resistance_ohm or 0.0 for week in first)
    grown_ohm, heavy_a = ohms[-1] - from_ohm, heavy_supply_a(case)
    growth = JointGrowth(
        from_ohm=from_ohm,
        to_ohm=ohms[-1],
        from_drop_v=median(week.own_drop_v or 0.0 for week in first),
        heat_w=grown_ohm * heavy_a**2,
        n_weeks=len(weeks),
        since_at=_grown_since(weeks, from_ohm).from_at,
    )
    is_grown = (
        growth.ratio >= JOINT_GROWTH_RATIO.value
        and 100 * grown_ohm * heavy_a / nominal_v >= JOINT_GROWTH_PCT.value
        and growth.heat_w >= JOINT_HEAT_W.value
        and (_rising_share(ohms) >= JOINT_RISING_SHARE.value or _stepped_up(ohms))
    )
    return growth if is_grown else None


def _comparable(case: Case) -> list[PumpWeek]:
    """Weeks whose resistance is known alike and from about as many starts as usual."""
    known = [
        week
        for week in (*case.past, case.week)
        if week.loop_resistance_ohm
        and week.own_drop_v is not None
        and week.n_voltage_pairs >= PAIRS_MIN.value
        and _how_amps_are_known(week) == _how_amps_are_known(case.week)
    ]
    usual = median(week.n_voltage_pairs for week in known) if known else 0
    return [week for week in known if week.n_voltage_pairs >= PAIRS_USUAL_SHARE.value * usual]


def _how_amps_are_known(week: PumpWeek) -> tuple[bool | None, bool]:
    """Logged, estimated with the motor's own magnetising share, or with an assumed one.

    Ohms of one way are not compared with those of another.
    """
    return week.supply_current_is_logged, week.magnetising_share is None


def _grown_since(weeks: list[PumpWeek], from_ohm: float) -> PumpWeek:
    """First of the weeks that lead to the present one with the resistance clearly up."""
    since = weeks[-1]
    for week in reversed(weeks):
        if (week.loop_resistance_ohm or 0.0) < JOINT_GROWTH_RATIO.value * from_ohm:
            break
        since = week
    return since


def _rising_share(values: list[float]) -> float:
    pairs = [later > earlier for n, earlier in enumerate(values) for later in values[n + 1 :]]
    return sum(pairs) / len(pairs)


def _stepped_up(ohms: list[float]) -> bool:
    """Whether this week stands clear of a past that agreed with itself."""
    past = ohms[:-1]
    return max(past) <= JOINT_GROWTH_RATIO.value * min(past) and ohms[
        -1
    ] >= JOINT_GROWTH_RATIO.value * max(past)

"""What a spell without pressure at speed was: dry, an open motor circuit, or water and a loss.

By the affinity laws shaft torque at no flow goes with the square of speed, and a drive keeps the
magnetising current about constant: a pump full of water takes at least its no-flow current at
and above its no-flow speed. Less than that is a pump without water; as much or more is a pump
that moves water which does not arrive (burst, hydrant, filling line), or a sensor that lost it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import Enum

from analysis.case import Case
from analysis.limits import (
    DRY_CURRENT_MOST_PCT,
    DRY_CURRENT_SURE_PCT,
    DRY_OVER_NO_FLOW,
    DRY_SPEED_OVER_NO_FLOW,
    GONE_SHARE,
    GONE_SURE_SHARE,
    OPEN_CIRCUIT_PCT,
)
from analysis.records import PumpWeek
from analysis.wording import count_text, frequency_text

_PCT = 100.0


class Gone(Enum):
    """What the current says a spell was."""

    DRY = "dry"
    MAYBE_DRY = "maybe dry"
    OPEN = "open motor circuit"
    WET = "water in the pump"
    UNTOLD = "no current to tell"


@dataclass(frozen=True, kw_only=True)
class Expected:
    """Motor current to expect of a pump with water in it, and where that comes from."""

    current_a: float
    text: str
    is_nameplate: bool = False


@dataclass(frozen=True, kw_only=True)
class Spell:
    """One spell at speed with the pressure gone.

    Attributes
    ----------
    n_samples : int
        Samples of it.
    share_of_setting : float
        Median pressure over the setting.
    pressure_range_kpa : float
        Highest less lowest pressure. [kPa]
    current_cv : float or None
        Robust coefficient of variation of the current.
    after_start_s : float or None
        Since the run's start. [s]
    expected : Expected or None
        None where nothing tells what to expect.
    """

    from_at: datetime
    length_s: float
    n_samples: int
    frequency_hz: float
    current_a: float | None
    share_of_setting: float
    pressure_range_kpa: float
    current_cv: float | None
    after_start_s: float | None
    expected: Expected | None
    what: Gone

    @property
    def current_pct(self) -> float | None:
        """Current in percent of the expected; None where either is unknown."""
        if self.current_a is None or self.expected is None:
            return None
        return _PCT * self.current_a / self.expected.current_a

    @property
    def to_at(self) -> datetime:
        """About when it ended."""
        return self.from_at + timedelta(seconds=self.length_s)


def gone_spells(case: Case) -> tuple[Spell, ...]:
    """Spells of the week, oldest first, each with what it was."""
    week = case.week
    setting_kpa = case.pump.pressure_setting_kpa or week.held_pressure_kpa
    columns = (
        week.gone_from_s,
        week.gone_s,
        week.gone_samples,
        week.gone_hz,
        week.gone_current_a,
        week.gone_kpa,
        week.gone_kpa_range,
        week.gone_current_cv,
        week.gone_after_start_s,
    )
    if not setting_kpa or any(column is None for column in columns):
        return ()
    spells = []
    for from_s, length_s, n, hz, amps, kpa, range_kpa, cv, after_s in zip(
        *(column or [] for column in columns), strict=True
    ):
        if from_s is None or length_s is None or hz is None or kpa is None:
            continue
        expected = expected_current_of(case, hz)
        spells.append(
            Spell(
                from_at=week.from_at + timedelta(seconds=from_s),
                length_s=length_s,
                n_samples=int(n or 0),
                frequency_hz=hz,
                current_a=amps,
                share_of_setting=kpa / setting_kpa,
                pressure_range_kpa=range_kpa or 0.0,
                current_cv=cv,
                after_start_s=after_s,
                expected=expected,
                what=_what(case, amps, hz, kpa / setting_kpa, expected),
            )
        )
    return tuple(spells)


def of_kind(spells: Sequence[Spell], *kinds: Gone) -> tuple[Spell, ...]:
    """Those spells that were one of these."""
    return tuple(spell for spell in spells if spell.what in kinds)


def expected_current_of(case: Case, frequency_hz: float) -> Expected | None:
    """Current to expect at a frequency and the usual pressure.

    From the pump's fitted expectation where it reaches that far and has not been learned from dry
    running, too: with water in it a pump takes more than its no-flow current at such speeds. Else
    the pump's current at the highest speeds at which it held its pressure this week or before, its
    torque carried to this frequency by the affinity laws; else the nameplate's, carried the same
    way.
    """
    learned = case.expected_current
    got = None if learned is None else learned.at_frequency(frequency_hz)
    least_a = no_flow_current_a(case) or 0.0
    if learned is not None and got is not None and got[0] > DRY_OVER_NO_FLOW.value * least_a:
        pumps = (
            f"{count_text(learned.n_weeks, 'week')} of this pump"
            if learned.n_peers == 0
            else f"this pump and {count_text(learned.n_peers, 'other')} of its model"
        )
        return Expected(current_a=got[0], text=f"what {pumps} let expect at like speed")
    held = current_when_held(case, frequency_hz)
    if held is not None:
        return held
    if case.pump.rated_amps:
        share = min(1.0, frequency_hz / case.pump.max_hz)
        return Expected(
            current_a=case.pump.rated_amps * share**2,
            text="nameplate amps, carried to this speed by the affinity laws",
            is_nameplate=True,
        )
    return None


def current_when_held(case: Case, frequency_hz: float) -> Expected | None:
    """Current at the highest speeds at which it held its setting, carried to this one.

    Of this week, or the last before that held it: what a week without it cannot spoil.
    """
    for week in (case.week, *reversed(case.past)):
        at_hz, at_a = week.top_held_hz, week.top_held_current_a
        if at_hz and at_a:
            return Expected(
                current_a=at_a * (frequency_hz / at_hz) ** 2,
                text=(
                    f"this pump's own current at {frequency_text(at_hz)}, carried to this speed"
                    " by the affinity laws"
                ),
            )
    return None


def no_flow_current_a(case: Case) -> float | None:
    """Least current with water in the pump: that of this week's stops, or of earlier ones."""
    week = _week_of_no_flow(case)
    return None if week is None else week.no_flow_current_a


def _week_of_no_flow(case: Case) -> PumpWeek | None:
    weeks = (case.week, *reversed(case.past))
    return next((week for week in weeks if week.no_flow_current_a), None)


def _what(
    case: Case,
    current_a: float | None,
    frequency_hz: float,
    share_of_setting: float,
    expected: Expected | None,
) -> Gone:
    if current_a is None or expected is None or expected.current_a <= 0.0:
        return Gone.UNTOLD
    pct = _PCT * current_a / expected.current_a
    if pct < OPEN_CIRCUIT_PCT.value:
        comes_back = (case.week.held_after_gone_s or 0.0) > 0
        is_dip = share_of_setting > GONE_SHARE.value and comes_back
        return Gone.UNTOLD if is_dip else Gone.OPEN  # a dip with no current: the current sensor
    least_a = no_flow_current_a(case)
    below_no_flow = least_a is not None and current_a <= DRY_OVER_NO_FLOW.value * least_a
    deep = share_of_setting <= GONE_SURE_SHARE.value
    if pct <= DRY_CURRENT_SURE_PCT.value:
        if below_no_flow or (least_a is None and deep):
            return Gone.DRY
        return Gone.MAYBE_DRY if deep else Gone.WET
    if pct <= DRY_CURRENT_MOST_PCT.value and below_no_flow:
        return Gone.DRY
    return Gone.DRY if deep and _below_far_above(case, current_a, frequency_hz) else Gone.WET


def _below_far_above(case: Case, current_a: float, frequency_hz: float) -> bool:
    """Whether it takes no more than at no flow though it turns a fifth faster.

    No motor with water to turn does, however little of its current is load.
    """
    week = _week_of_no_flow(case)
    if week is None or week.no_flow_current_a is None or week.no_flow_hz is None:
        return False
    is_far_above = frequency_hz >= DRY_SPEED_OVER_NO_FLOW.value * week.no_flow_hz
    return is_far_above and current_a <= week.no_flow_current_a

"""All that a detector may look at when it judges one pump's week."""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property

from analysis.baseline import WHOLE_PAST, Baseline
from analysis.expected_current import ExpectedCurrent
from analysis.findings import Judged, NotAssessed
from analysis.no_flow import NoFlowDrift
from analysis.records import OpMapBin, PumpDay, PumpWeek, TripEvent
from analysis.rhythm import Rhythm, rhythm_of
from analysis.week_flow import WeekFlow, week_flow
from ingest.installed_base import CurvePoint, FaultCode, Pump, Site
from ingest.left_out import LeftOutValues

Verdict = tuple[Judged, ...] | NotAssessed
"""What a detector answers: findings (none: clear), or why it could not judge."""


@dataclass(frozen=True, kw_only=True)
class CurrentDrift:
    """How motor current at like frequency and pressure moves over weeks.

    The slope is Theil-Sen over weekly residuals of the op_map bins, in percent of the bins' own
    level per week; the limits are its 95 % confidence interval (Sen 1968).
    """

    pct_per_week: float
    low_pct_per_week: float
    high_pct_per_week: float
    total_pct: float  # slope times the weeks spanned
    n_weeks: int
    n_bins: int


@dataclass(frozen=True, kw_only=True)
class Neighbours:
    """What other sites of the same region showed of their supply in the same week."""

    n_sites: int  # other sites with voltage logged
    n_sites_low: int  # of them, with idle volts below the limit
    same_site_pumps: int  # other pumps of this site with voltage logged
    same_site_pumps_low: int


@dataclass(frozen=True, kw_only=True)
class Case:
    """One pump's week in its context.

    Attributes
    ----------
    trips : tuple of TripEvent
        The week's trips, oldest first.
    fault_codes : tuple of FaultCode
        What the company's list says of this controller model's codes.
    left_out : tuple of LeftOutValues
        Values of the week that no pump can show, so that they are in none of its samples.
    past : tuple of PumpWeek
        Earlier weeks of the same pump since its last restart of the baseline, oldest first.
    past_days : tuple of PumpDay
        Days of those weeks, oldest first.
    op_map : tuple of tuple of OpMapBin
        Operating maps of those weeks and this one, a week each, oldest first.
    baseline : Baseline
        Where that past begins, and why.
    no_flow_drift : NoFlowDrift or None
        How the no-flow speed moves; None where fewer than three weeks tell one.
    neighbours : Neighbours or None
        None where the region is blank.
    find_drift : callable
        Finds how current moves over weeks; called once, and only if a detector asks for ``drift``.
    learn_current : callable
        Fits what current to expect; likewise, for ``expected_current``.
    """

    site: Site
    pump: Pump
    curve: tuple[CurvePoint, ...]
    week: PumpWeek
    days: tuple[PumpDay, ...]
    trips: tuple[TripEvent, ...] = ()
    fault_codes: tuple[FaultCode, ...] = ()
    left_out: tuple[LeftOutValues, ...] = ()
    past: tuple[PumpWeek, ...] = ()
    past_days: tuple[PumpDay, ...] = ()
    op_map: tuple[tuple[OpMapBin, ...], ...] = ()
    baseline: Baseline = WHOLE_PAST
    no_flow_drift: NoFlowDrift | None = None
    neighbours: Neighbours | None = None
    find_drift: Callable[[], CurrentDrift | None] = field(
        default=lambda: None, repr=False, compare=False
    )
    learn_current: Callable[[], ExpectedCurrent | None] = field(
        default=lambda: None, repr=False, compare=False
    )

    @cached_property
    def drift(self) -> CurrentDrift | None:
        """How motor current moves; None where fewer than three weeks can be compared."""
        return self.find_drift()

    @cached_property
    def expected_current(self) -> ExpectedCurrent | None:
        """What current this pump's past lets expect; None where there is too little of it."""
        return self.learn_current()

    @cached_property
    def flow(self) -> WeekFlow | None:
        """What the pump moved: by meter, else estimated from its curve; None without either."""
        return week_flow(self.week, self.pump, self.curve, self.op_map, self.past)

    @cached_property
    def rhythm(self) -> Rhythm:
        """When the site draws water, and the demand that is recognised in it."""
        return rhythm_of(self.week, self.days, self.past, self.past_days)

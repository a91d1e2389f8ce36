"""What of the fleet's records one pump's week is judged by: its past, its kind, its neighbours."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial

from analysis.baseline import baseline_of
from analysis.case import Case
from analysis.current_bins import MAX_PEERS, Maps
from analysis.drift import current_drift
from analysis.expected_current import ExpectedCurrent, fit_expected_current
from analysis.findings import Kind
from analysis.learned_confidence import Learned
from analysis.limits import EXPECTED_MIN_WEEKS
from analysis.neighbours import IdleLows, neighbours_of
from analysis.no_flow import no_flow_drift
from analysis.past import recent, up_to_week
from analysis.records import OpMapBin, PumpDay, PumpWeek, TripEvent
from ingest.installed_base import Pump, Register
from ingest.left_out import LeftOutValues


@dataclass(frozen=True, kw_only=True)
class Fleet:
    """The register, and records of some or all of its pumps by pump, oldest first.

    Of what lies before the week judged, at least what `analysis.past` says is compared with.
    """

    register: Register
    weeks: Mapping[str, Sequence[PumpWeek]]
    days: Mapping[str, Sequence[PumpDay]]
    op_map: Mapping[str, Sequence[OpMapBin]]
    trips: Mapping[str, Sequence[TripEvent]] = field(default_factory=dict)
    left_out: Mapping[str, Sequence[LeftOutValues]] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Around:
    """What judging one pump takes of the others, gathered once a week.

    Attributes
    ----------
    lows : IdleLows
        Low supplies, by site and region.
    learned : mapping of Kind to Learned
        What visits have taught of each kind's confidence.
    alike : callable
        Operating maps of other pumps of a pump's model: one entry a pump, a week each inside.
    """

    lows: IdleLows
    learned: Mapping[Kind, Learned]
    alike: Callable[[Pump], Sequence[Maps]]


def case_of(fleet: Fleet, pump: Pump, record: PumpWeek, around: Around) -> Case:
    """Gather what detectors may look at of one pump's week."""
    weeks = up_to_week(fleet.weeks[pump.pump_id], record.week)
    baseline = baseline_of(fleet.register, pump, weeks)
    since_at = baseline.since_at
    compared = [w for w in weeks[:-1] if since_at is None or w.from_at >= since_at]
    past = recent(compared, record.week)
    past_names = {week.week for week in past}
    days = fleet.days.get(pump.pump_id, ())
    maps = by_week(fleet.op_map.get(pump.pump_id, ()), up_to=record.week)
    long_names = {*(week.week for week in compared), record.week}
    long_maps = [cells for week, cells in maps.items() if week in long_names]
    recent_maps = [m for m in long_maps if m[0].week in past_names or m[0].week == record.week]
    return Case(
        site=fleet.register.sites[pump.site_id],
        pump=pump,
        curve=fleet.register.curve_of(pump.pump_model),
        week=record,
        trips=tuple(t for t in fleet.trips.get(pump.pump_id, ()) if t.week == record.week),
        left_out=tuple(o for o in fleet.left_out.get(pump.pump_id, ()) if o.week == record.week),
        fault_codes=fleet.register.codes_of(pump.controller_model),
        days=tuple(day for day in days if day.week == record.week),
        past=past,
        past_days=tuple(day for day in days if day.week in past_names),
        op_map=tuple(recent_maps),
        baseline=baseline,
        find_drift=partial(current_drift, long_maps),
        no_flow_drift=no_flow_drift((*compared, record), pump, long_maps),
        neighbours=neighbours_of(pump, fleet.register, around.lows),
        learn_current=partial(_expected_current, around, pump, recent_maps, record.week),
    )


def _expected_current(
    around: Around, pump: Pump, maps: Sequence[tuple[OpMapBin, ...]], week: str
) -> ExpectedCurrent | None:
    """Fit the pump's expected current, with its model's other pumps where its past is short."""
    is_short = len(maps) <= EXPECTED_MIN_WEEKS.value and pump.pump_model is not None
    return fit_expected_current(maps, pump, week, around.alike(pump) if is_short else ())


def maps_alike(fleet: Fleet, week: str, pump: Pump) -> list[Maps]:
    """Operating maps of a fleet's other pumps of the same model, up to a week."""
    return [
        list(by_week(fleet.op_map.get(pump_id, ()), up_to=week).values())
        for pump_id in pumps_alike(fleet.register, pump)
    ]


def pumps_alike(register: Register, pump: Pump) -> list[str]:
    """Other pumps of the same pump and motor, as many as are learned from."""
    same = register.pumps_of(pump.pump_model, pump.motor_model)
    return [pump_id for pump_id in same[: MAX_PEERS + 1] if pump_id != pump.pump_id][:MAX_PEERS]


def by_week(cells: Sequence[OpMapBin], up_to: str) -> dict[str, tuple[OpMapBin, ...]]:
    """Bins by week, oldest week first."""
    weeks: dict[str, list[OpMapBin]] = {}
    for cell in cells:
        if cell.week <= up_to:
            weeks.setdefault(cell.week, []).append(cell)
    return {week: tuple(weeks[week]) for week in sorted(weeks)}

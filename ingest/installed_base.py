"""What the company answers for: sites, pumps, curves, fault codes, visits.

Everything is in the program's inner units: kPa gauge, L, L/min, m, mm2, kW, A, V, Hz.
A blank in the register is ``None`` and stays ``None``: nothing is guessed.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import TypeVar

Row = TypeVar("Row")
Key = TypeVar("Key")


@dataclass(frozen=True, kw_only=True)
class Site:
    """One place with one or more pumps."""

    site_id: str
    site_name: str | None = None
    timezone: str = "UTC"
    region: str | None = None
    installer: str | None = None
    customer: str | None = None
    units: str = "us"  # "us" or "si": how this site's pages show quantities
    dependence: str | None = None  # "ordinary", "important" or "critical": who depends on it
    energy_price_per_kwh: float | None = None
    water_price_per_m3: float | None = None
    currency: str | None = None  # what the prices are in, as pages show it

    @property
    def title(self) -> str:
        """What people call the site, or its id."""
        return self.site_name or self.site_id


@dataclass(frozen=True, kw_only=True)
class Pump:
    """One pump set as registered; ``None`` where the register is blank."""

    pump_id: str
    site_id: str
    pump_model: str | None = None
    motor_model: str | None = None
    controller_model: str | None = None
    motor_kw: float | None = None
    motor_volts: float | None = None
    rated_amps: float | None = None
    service_factor_amps: float | None = None
    overload_setting_amps: float | None = None
    supply_volts: float | None = None
    supply_phases: int = 1
    motor_phases: int | None = None
    max_hz: float = 60.0
    min_hz: float = 30.0
    ramp: str | None = None  # "slow" or "fast"
    pressure_setting_kpa: float | None = None
    suction: str | None = None  # "flooded", "tank", "lift" or "well"
    suction_kpa: float | None = None
    tank_l: float | None = None
    precharge_kpa: float | None = None
    supply_wire_mm2: float | None = None
    supply_wire_m: float | None = None
    motor_lead_m: float | None = None
    output_filter: bool | None = None
    installed_on: date | None = None
    warranty_months: float | None = None  # from installed_on


@dataclass(frozen=True, kw_only=True)
class CurvePoint:
    """One published point of a pump model at rated speed."""

    pump_model: str
    flow_lpm: float
    head_m: float
    efficiency_pct: float | None = None
    shaft_kw: float | None = None


@dataclass(frozen=True, kw_only=True)
class FaultCode:
    """What one controller model's fault code means, in the company's words."""

    controller_model: str
    fault_code: str
    meaning: str


SEEN_OUTCOMES = ("confirmed", "not_found", "fixed")
"""What somebody saw who was there."""

AGREED_OUTCOMES = ("planned", "told", "accepted", "explained")
"""What was agreed about a finding until a day."""

OUTCOMES = (*SEEN_OUTCOMES, *AGREED_OUTCOMES)


@dataclass(frozen=True, kw_only=True)
class Visit:
    """One visit to a site or pump and what it showed."""

    visited_on: date
    site_id: str
    pump_id: str | None = None
    kind: str | None = None
    outcome: str | None = None  # see OUTCOMES
    found: str | None = None
    done: str | None = None
    until_on: date | None = None  # last day on which a planned, told, accepted, explained holds


@dataclass(frozen=True, kw_only=True)
class Problem:
    """One thing wrong in a file, with what was expected and what happens now.

    ``text`` reads on its own after ``file line N:``.
    """

    file: str
    line: int | None
    column: str | None
    text: str

    def __str__(self) -> str:
        where = self.file if self.line is None else f"{self.file} line {self.line}"
        return f"{where}: {self.text}"


@dataclass(frozen=True, kw_only=True)
class Register:
    """The whole installed base, keyed by id and sorted by it."""

    sites: dict[str, Site] = field(default_factory=dict)
    pumps: dict[str, Pump] = field(default_factory=dict)
    curves: tuple[CurvePoint, ...] = ()
    fault_codes: tuple[FaultCode, ...] = ()
    visits: tuple[Visit, ...] = ()

    def pumps_at(self, site_id: str) -> list[Pump]:
        """Pumps of one site, in order of their id."""
        return self._pumps_by_site.get(site_id, [])

    def pumps_of(self, pump_model: str | None, motor_model: str | None) -> list[str]:
        """Ids of the pumps of one pump and motor model, in order."""
        return self._pumps_by_model.get((pump_model, motor_model), [])

    def visits_at(self, site_id: str) -> list[Visit]:
        """Visits to one site, in the register's order."""
        return self._visits_by_site.get(site_id, [])

    def curve_of(self, pump_model: str | None) -> tuple[CurvePoint, ...]:
        """Published points of one pump model."""
        return tuple(self._curves_by_model.get(pump_model, ()))

    def codes_of(self, controller_model: str | None) -> tuple[FaultCode, ...]:
        """Fault codes of one controller model."""
        return tuple(self._codes_by_model.get(controller_model, ()))

    # Looked up for every pump of the fleet, so each list is gone through once.
    @cached_property
    def _pumps_by_site(self) -> dict[str, list[Pump]]:
        return _grouped(self.pumps.values(), lambda pump: pump.site_id)

    @cached_property
    def _pumps_by_model(self) -> dict[tuple[str | None, str | None], list[str]]:
        by_model = _grouped(self.pumps.values(), lambda pump: (pump.pump_model, pump.motor_model))
        return {model: [pump.pump_id for pump in pumps] for model, pumps in by_model.items()}

    @cached_property
    def _visits_by_site(self) -> dict[str, list[Visit]]:
        return _grouped(self.visits, lambda visit: visit.site_id)

    @cached_property
    def _curves_by_model(self) -> dict[str | None, list[CurvePoint]]:
        return _grouped(self.curves, lambda point: point.pump_model)

    @cached_property
    def _codes_by_model(self) -> dict[str | None, list[FaultCode]]:
        return _grouped(self.fault_codes, lambda code: code.controller_model)


def _grouped(rows: Iterable[Row], key_of: Callable[[Row], Key]) -> dict[Key, list[Row]]:
    groups: dict[Key, list[Row]] = {}
    for row in rows:
        groups.setdefault(key_of(row), []).append(row)
    return groups

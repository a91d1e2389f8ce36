"""What the company answers for: sites, pumps, curves, fault codes, visits.

Everything is in the program's inner units: kPa gauge, L, L/min, m, mm2, kW, A, V, Hz.
A blank in the register is ``None`` and stays ``None``: nothing is guessed.
"""

from dataclasses import dataclass, field
from datetime import date


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
        return [pump for pump in self.pumps.values() if pump.site_id == site_id]

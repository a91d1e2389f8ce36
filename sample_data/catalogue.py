"""Invented pump and motor models, and the pump sets built from them."""

from dataclasses import dataclass, field

from sample_data.demand import Calendar
from sample_data.ills import (
    Gulps,
    Heating,
    Hunting,
    LowVoltsTrip,
    PumpEnd,
    SensorIll,
    Trips,
    Well,
)
from sample_data.plant import PumpCurve
from sample_data.supply import Generator, Sag

SERVICE_FACTOR = 1.15  # usual from 1.5 hp up; the invented 1 hp motor has it too


@dataclass(frozen=True)
class Model:
    """An invented pump with its motor.

    ``amps`` gives the nameplate full-load current by nameplate volts. [A]
    """

    pump_model: str
    motor_model: str
    shaft_kw: float
    is_well: bool
    curve: PumpCurve
    amps: dict[int, float]


HP_KW = 0.7457

MODELS: dict[str, Model] = {
    model.pump_model: model
    for model in (
        Model("Tarn 1", "Cob 1", 1 * HP_KW, False, PumpCurve(650, 45), {208: 4.6, 230: 4.2}),
        Model("Tarn 1.5", "Cob 1.5", 1.5 * HP_KW, False, PumpCurve(680, 62), {208: 6.6, 230: 6.0}),
        Model("Mere 2", "Cob 2", 2 * HP_KW, False, PumpCurve(700, 85), {208: 7.5, 230: 6.8}),
        Model("Mere 3", "Cob 3", 3 * HP_KW, False, PumpCurve(720, 120), {208: 10.6, 230: 9.6}),
        Model("Mere 5", "Cob 5", 5 * HP_KW, False, PumpCurve(740, 180), {208: 16.7, 230: 15.2}),
        Model("Ghyll 1.5", "Otter 1.5", 1.5 * HP_KW, True, PumpCurve(1050, 44), {230: 6.0}),
        Model("Ghyll 3", "Otter 3", 3 * HP_KW, True, PumpCurve(1150, 78), {230: 9.6}),
        Model("Fjord 1.1", "Cob 1.1", 1.1, False, PumpCurve(640, 58, 50.0), {230: 4.7}),
        Model("Fjord 2.2", "Cob 2.2", 2.2, False, PumpCurve(680, 105, 50.0), {230: 8.7, 400: 5.0}),
        Model("Fjord 4", "Cob 4", 4.0, False, PumpCurve(700, 170, 50.0), {400: 8.4}),
    )
}


@dataclass(frozen=True)
class Leak:
    """A steady loss downstream [s, s, L/min]."""

    from_s: float
    to_s: float
    lpm: float


@dataclass(frozen=True)
class CheckLoss:
    """A check valve that leaks on a share of stops [s, s, L/min when it leaks, 0-1]."""

    from_s: float
    to_s: float
    lpm: float
    share: float


@dataclass(frozen=True)
class GasLoss:
    """The share of the tank's gas left from an instant on [s, 0-1]."""

    from_s: float
    share: float


@dataclass
class LogSpec:
    """How a pump set is logged.

    ``intervals`` are (from_s, interval in s) in order of time.
    """

    intervals: tuple[tuple[float, float], ...]
    channels: tuple[str, ...] = ("pressure", "frequency", "current", "voltage")
    is_averaged: bool = False
    gaps: list[tuple[float, float]] = field(default_factory=list)
    shut_from_s: float | None = None
    is_alternate: int | None = None  # a duplex pump: the parity of the days it leads
    pressure_unit: str = "psi"
    pressure_digits: int = 1
    hot_c: float = 0.0
    traits: tuple[str, ...] = ()


@dataclass
class PumpSet:
    """One pump set as it truly is, and what the register says of it.

    The fault functions change it while the fleet is built; then it is simulated. ``register``
    holds what the register says in inner units (kPa, L, L/min, m, mm2, A, V, Hz).
    """

    pump_id: str
    site_id: str
    cal: Calendar
    model: Model
    motor_volts: int
    supply_volts: int
    supply_phases: int
    set_kpa: float
    band_kpa: float
    boost_kpa: float
    suction_kpa: float
    lift_kpa: float
    tank_l: float
    charge_kpa: float
    min_hz: float
    max_hz: float
    ramp_s: float
    no_flow_s: float
    sleep_lpm: float
    large_lpm: float
    load_share: float  # current at the large flow, of service-factor amps
    rated_amps: float
    wire_mm2: float
    wire_m: float
    lead_m: float
    has_filter: bool
    profile: str
    use_factor: float
    log: LogSpec
    register: dict[str, object] = field(default_factory=dict)
    extras: tuple[str, ...] = ()
    sfa_factor: float = SERVICE_FACTOR
    limit_a: float = 1e9
    most_draw: float = 1.05  # of the large flow: what open taps pass at most
    overload_tau_s: float | None = None  # an overload that trips, with its heating time
    dry_trip_s: float | None = None  # dry-run protection, and how long it waits to retry
    dry_wait_s: float = 1200.0
    needs_volts: bool = False  # near its top speed, so that low volts hold it back
    fold_back_c: float | None = None  # drive temperature it holds by slowing down
    volts_trip: LowVoltsTrip | None = None
    well: Well | None = None
    ends: list[PumpEnd] = field(default_factory=list)
    dry: list[tuple[float, float]] = field(default_factory=list)
    gulps: list[Gulps] = field(default_factory=list)
    trips: list[Trips] = field(default_factory=list)
    off: list[tuple[float, float]] = field(default_factory=list)  # by hand; the log goes on
    open_motor: list[tuple[float, float]] = field(default_factory=list)
    heating: list[Heating] = field(default_factory=list)
    hunting: list[Hunting] = field(default_factory=list)
    sensors: list[SensorIll] = field(default_factory=list)
    leaks: list[Leak] = field(default_factory=list)
    check: list[CheckLoss] = field(default_factory=list)
    gas: list[GasLoss] = field(default_factory=list)
    joints: list[tuple[float, float, float]] = field(default_factory=list)  # s, ohm, ohm/s
    drag: list[tuple[float, float]] = field(default_factory=list)  # s, A per week
    replaced: tuple[float, float, float] | None = None  # s, curve factor, current factor
    sags: list[Sag] = field(default_factory=list)
    generators: list[Generator] = field(default_factory=list)
    outages: list[tuple[float, float]] = field(default_factory=list)
    quiet: list[tuple[float, float]] = field(default_factory=list)  # nobody draws

    @property
    def service_factor_amps(self) -> float:
        """The real motor's nameplate service-factor current [A]."""
        return round(self.rated_amps * self.sfa_factor, 1)

    @property
    def duty_boost_kpa(self) -> float:
        """What the pump must add at the setting [kPa]."""
        return self.set_kpa - self.suction_kpa + self.lift_kpa

"""From a scenario to a pump set: the seed picks everything the scenario leaves open."""

from dataclasses import dataclass

import numpy as np

from sample_data.catalogue import MODELS, LogSpec, Model, PumpSet
from sample_data.demand import Calendar
from sample_data.effects import EFFECTS
from sample_data.faults import Span, full_input_a
from sample_data.plant import GAL, PSI
from sample_data.scenario import Built, Scenario
from sample_data.supply import AWG_MM2, CONTACT_OHM, wire_loop_ohm

MOST_WIRE_DROP = 0.020  # of nominal at the large flow: well inside the 3 % advised for a branch
METRIC_MM2 = (2.5, 4.0, 6.0, 10.0, 16.0, 25.0)
TOP_OF_DAY = 0.925  # of rated speed: the speed that gives all a healthy set is asked for


@dataclass(frozen=True)
class Truth:
    """One row of ``truth.csv``.

    ``leak_lpm`` is what leaks downstream, ``loop_resistance_ohm`` that of the branch circuit
    there and back in the middle of the last week; blank where the row is about something else.
    """

    pump_id: str
    site_id: str
    scenario: str
    kind: str
    cause: str
    size: str
    began_on: str
    ended_on: str
    also_allowed: str
    note: str
    leak_lpm: str = ""
    loop_resistance_ohm: str = ""


def _model(scenario: Scenario, rng: np.random.Generator, motor_volts: int) -> Model:
    wanted = scenario.models or {
        "farm": ("Mere 2", "Mere 3", "Mere 5"),
        "building": ("Mere 2", "Mere 3"),
    }.get(scenario.profile, ("Tarn 1", "Tarn 1.5", "Ghyll 1.5"))
    if scenario.place == "eu" and not any(name.startswith("Fjord") for name in wanted):
        wanted = ("Fjord 2.2",)
    fits = [name for name in wanted if motor_volts in MODELS[name].amps]
    return MODELS[fits[int(rng.integers(len(fits)))]]


def _pressures(
    model: Model, rng: np.random.Generator, is_metric: bool
) -> tuple[float, float, float]:
    """Set pressure, suction and lift that put no flow at two thirds to four fifths of speed."""
    shutoff = model.curve.shutoff_kpa
    sets = np.array([350.0, 375.0, 400.0]) if is_metric else np.array([50, 55, 60]) * PSI
    share = float(rng.uniform(0.47, 0.58))
    if model.is_well:
        set_kpa = float(rng.choice(sets))
        return set_kpa, 0.0, share * shutoff - set_kpa
    fits = [
        (float(s), float(p))
        for s in sets
        for p in (
            (0.0, 20.0, 40.0, 70.0, 100.0) if is_metric else np.array([0, 3, 6, 10, 15, 20]) * PSI
        )
        if 0.455 <= (s - p) / shutoff <= 0.60 and s - p > 21 * PSI
    ]
    set_kpa, suction = fits[int(rng.integers(len(fits)))]
    return set_kpa, suction, 0.0


def _volts(scenario: Scenario) -> tuple[int, int, int]:
    supply = scenario.supply_volts or 230
    motor = scenario.motor_volts or supply
    return supply, motor, 3 if supply == 400 else 1


def _intervals(
    scenario: Scenario, cal: Calendar, rng: np.random.Generator
) -> tuple[tuple[float, float], ...]:
    late = float(rng.choice([20, 30]))
    spans = scenario.intervals or ((4.0, 120.0), (10 / 7, late))
    later = {cal.at(7 * weeks): step for weeks, step in spans}
    return tuple(sorted(later.items()))  # a short period leaves only the last that begins


def _wire(pump: PumpSet, rng: np.random.Generator, is_metric: bool) -> None:
    """Choose a conductor that is ample for its length."""
    pump.wire_m = round(float(rng.uniform(10, 34)), 1)
    sizes = METRIC_MM2 if is_metric else tuple(sorted(AWG_MM2.values()))
    phases = 1 if pump.supply_phases == 1 else 2
    for mm2 in sizes:
        pump.wire_mm2 = mm2
        drop = wire_loop_ohm(mm2, pump.wire_m) / phases * full_input_a(pump)
        if drop < MOST_WIRE_DROP * pump.supply_volts:
            return


def build_pump(
    scenario: Scenario, ids: tuple[str, str], cal: Calendar, rng: np.random.Generator
) -> tuple[PumpSet, list[Truth]]:
    """Build one pump set with its faults, and the truth of it.

    Parameters
    ----------
    scenario : Scenario
        What it is.
    ids : (str, str)
        Its pump and site ids.
    cal : Calendar
        The site's local days.
    rng : numpy Generator
        The pump's own.

    Returns
    -------
    The pump set, and one row per fault (or one with a blank kind).
    """
    pump = _sound_pump(scenario, ids, cal, rng)
    shift = float(rng.uniform(-1, 1))
    rows = []
    for built in scenario.built:
        span = _span(built, cal, shift)
        EFFECTS[built.effect](pump, span, rng)
        if built.kind:
            rows.append(_truth(scenario, pump, built, span))
    if not rows:
        odd = [built for built in scenario.built if built.days_before_end is not None]
        began = cal.date_text(_span(odd[0], cal, shift).from_s) if odd else ""
        rows = [Truth(*ids, scenario.name, "", "", "", began, "", scenario.also, scenario.note)]
    return pump, rows


def _sound_pump(
    scenario: Scenario, ids: tuple[str, str], cal: Calendar, rng: np.random.Generator
) -> PumpSet:
    is_metric = scenario.place == "eu"
    supply_v, motor_v, phases = _volts(scenario)
    model = _model(scenario, rng, motor_v)
    set_kpa, suction, lift = _pressures(model, rng, is_metric)
    rated_hz = model.curve.rated_hz
    most = model.curve.flow_lpm(set_kpa - suction + lift, TOP_OF_DAY * rated_hz)
    tank = float(rng.choice(scenario.tanks_gal))
    is_slow = scenario.profile != "farm" or rng.random() < 0.5
    lead = float(rng.uniform(40, 75)) if model.is_well else float(rng.uniform(3, 13))
    pump = PumpSet(
        *ids,
        cal,
        model,
        motor_v,
        supply_v,
        phases,
        set_kpa,
        band_kpa=float(rng.choice([4, 5, 6])) * PSI,
        boost_kpa=float(rng.uniform(1, 2)) * PSI,
        suction_kpa=suction,
        lift_kpa=lift,
        tank_l=tank * GAL,
        charge_kpa=_charge_kpa(set_kpa, rng, is_metric),
        min_hz=30.0,
        max_hz=rated_hz,
        ramp_s=float(rng.uniform(4, 6) if is_slow else rng.uniform(1.5, 2.5)),
        no_flow_s=float(rng.uniform(7, 11)),
        sleep_lpm=float(rng.uniform(1.8, 2.3)),
        large_lpm=float(rng.uniform(0.82, 0.95)) * most,
        load_share=float(rng.uniform(0.64, 0.80)),
        rated_amps=model.amps[motor_v],
        wire_mm2=5.261,
        wire_m=20.0,
        lead_m=round(lead, 0),
        has_filter=model.is_well,
        profile=scenario.profile,
        use_factor=scenario.use_factor * float(rng.uniform(0.85, 1.15)),
        log=_log_spec(scenario, cal, rng),
        extras=scenario.extras,
    )
    pump.register["ramp"] = "slow" if is_slow else "fast"
    _wire(pump, rng, is_metric)
    return pump


def _charge_kpa(set_kpa: float, rng: np.random.Generator, is_metric: bool) -> float:
    """About 70 % of the setting, as read from a gauge."""
    step = 10.0 if is_metric else PSI
    return round(set_kpa * float(rng.uniform(0.68, 0.73)) / step) * step


def _log_spec(scenario: Scenario, cal: Calendar, rng: np.random.Generator) -> LogSpec:
    traits = set(scenario.traits)
    optional = {name: name for name in ("flow", "suction", "temp", "code")}
    optional["input"] = "input_current"
    extra = tuple(channel for trait, channel in optional.items() if trait in traits)
    if scenario.place == "eu":
        unit, digits = ("bar", 2) if rng.random() < 0.5 else ("kpa", 0)
    else:
        unit, digits = "psi", 0 if "coarse" in traits else 1
    return LogSpec(
        intervals=_intervals(scenario, cal, rng),
        channels=("pressure", "frequency", "current", "voltage", *extra),
        is_averaged="averaged" in traits,
        pressure_unit=unit,
        pressure_digits=digits,
        is_alternate=0 if "duplex_a" in traits else 1 if "duplex_b" in traits else None,
        traits=scenario.traits,
    )


def _span(built: Built, cal: Calendar, shift: float) -> Span:
    if built.days_before_end is None:
        return Span(0.0, cal.length_s, built.size)
    days = built.days_before_end + round(shift * built.jitter_days)
    ends = cal.length_s
    if built.lasts_days is not None:
        ends = cal.at(max(days - built.lasts_days, 0), built.hour)
    return Span(cal.at(days, built.hour), ends, built.size)


def _truth(scenario: Scenario, pump: PumpSet, built: Built, span: Span) -> Truth:
    cal = pump.cal
    ended = "" if span.to_s >= cal.length_s else cal.date_text(span.to_s)
    also = ";".join(part for part in (built.also, scenario.also) if part)
    is_leak = (built.kind, built.cause) == ("leak", "downstream")
    is_wiring = (built.kind, built.cause) == ("undervoltage", "supply_wiring")
    return Truth(
        pump.pump_id,
        pump.site_id,
        scenario.name,
        built.kind,
        built.cause,
        built.size,
        cal.date_text(span.from_s),
        ended,
        also,
        scenario.note,
        f"{_leaking_lpm(pump, span.from_s):.3f}" if is_leak else "",
        f"{_loop_ohm(pump, cal.at(3.5)):.3f}" if is_wiring else "",
    )


def _leaking_lpm(pump: PumpSet, at_s: float) -> float:
    return sum(leak.lpm for leak in pump.leaks if leak.from_s <= at_s < leak.to_s)


def _loop_ohm(pump: PumpSet, at_s: float) -> float:
    joints = sum(
        ohm + per_s * (at_s - from_s) for from_s, ohm, per_s in pump.joints if from_s <= at_s
    )
    return wire_loop_ohm(pump.wire_mm2, pump.wire_m) + CONTACT_OHM + joints

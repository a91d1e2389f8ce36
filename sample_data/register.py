"""The invented company's register: its sites, pumps, curves, fault codes and past visits."""

import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sample_data.catalogue import MODELS, PumpSet
from sample_data.plant import GAL, PSI
from sample_data.supply import AWG_MM2

FOOT_M = 0.3048
KPA_PER_M = 9.79
HP_KW = 0.7457

PLACES = {  # region by place, with its zone; all invented but the zones
    "us": (
        ("Lower Hale", "America/Chicago"),
        ("Upper Hale", "America/Denver"),
        ("Stony Reach", "America/New_York"),
    ),
    "eu": (("Nordhavel", "Europe/Oslo"),),
    "dry": (("Dry Fork", "America/Phoenix"),),
    "mill": (("Mill Bottom", "America/Chicago"),),
}
CREWS = ("Crew Alder", "Crew Birch", "Crew Cedar", "Crew Rowan")
FIRST_NAMES = (
    "Upper",
    "Lower",
    "Far",
    "Old",
    "North",
    "South",
    "Little",
    "Long",
    "Stone",
    "Willow",
    "Heron",
    "Otter",
    "Fox",
    "Plover",
    "Bramble",
)
LAST_NAMES = ("Meadow", "Croft", "Bank", "Ford", "Acre", "Hollow", "Bend", "Weir", "Holm", "Lea")
CONTROLLERS = ("Sluice 2", "Sluice 4")
FAULT_CODES = (
    ("11", "motor overload"),
    ("12", "supply volts low"),
    ("13", "supply volts high"),
    ("21", "dry run"),
    ("22", "pressure sensor signal out of range"),
    ("23", "ground fault on the motor side"),
    ("31", "drive too hot"),
)

PUMP_COLUMNS = (
    "pump_id",
    "site_id",
    "pump_model",
    "motor_model",
    "controller_model",
    "motor_hp",
    "motor_kw",
    "motor_volts",
    "rated_amps",
    "service_factor_amps",
    "overload_setting_amps",
    "supply_volts",
    "supply_phases",
    "max_hz",
    "min_hz",
    "ramp",
    "pressure_setting_psi",
    "pressure_setting_kpa",
    "pressure_setting_bar",
    "suction",
    "suction_psi",
    "suction_kpa",
    "tank_gal",
    "tank_l",
    "precharge_psi",
    "precharge_bar",
    "supply_wire_awg",
    "supply_wire_mm2",
    "supply_wire_ft",
    "supply_wire_m",
    "motor_lead_ft",
    "motor_lead_m",
    "output_filter",
    "installed_on",
)
SITE_COLUMNS = (
    "site_id",
    "site_name",
    "timezone",
    "region",
    "installer",
    "customer",
    "units",
    "energy_price_per_kwh",
    "water_price_per_kgal",
    "currency",
)
TARIFF = ("0.16", "7.50", "USD")  # invented; metric sites have none on record
VISIT_COLUMNS = ("visited_on", "site_id", "pump_id", "kind", "outcome", "found", "done")


@dataclass(frozen=True)
class SiteRow:
    """A site as registered."""

    site_id: str
    site_name: str
    timezone: str
    region: str
    installer: str
    customer: str
    units: str
    energy_price_per_kwh: str
    water_price_per_kgal: str
    currency: str


def _round(value: float, digits: int = 0) -> str:
    text = f"{value:.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _pressure(name: str, kpa: float, unit: str) -> dict[str, str]:
    if unit == "psi":
        return {f"{name}_psi": _round(kpa / PSI)}
    if unit == "bar":
        return {f"{name}_bar": _round(kpa / 100, 2)}
    return {f"{name}_kpa": _round(kpa)}


def _metric(pump: PumpSet) -> dict[str, str]:
    unit = pump.log.pressure_unit
    return {
        "motor_kw": _round(float(str(pump.register["motor_kw"])), 2),
        **_pressure("pressure_setting", pump.set_kpa, unit),
        **_pressure("precharge", pump.charge_kpa, "bar"),
        "suction_kpa": "" if pump.model.is_well else _round(pump.suction_kpa),
        "tank_l": _round(pump.tank_l),
        "supply_wire_mm2": _round(pump.wire_mm2, 1),
        "supply_wire_m": _round(pump.wire_m, 1),
        "motor_lead_m": _round(pump.lead_m),
    }


def _customary(pump: PumpSet) -> dict[str, str]:
    awg = {mm2: gauge for gauge, mm2 in AWG_MM2.items()}
    return {
        "motor_hp": _round(float(str(pump.register["motor_kw"])) / HP_KW, 1),
        **_pressure("pressure_setting", pump.set_kpa, "psi"),
        **_pressure("precharge", pump.charge_kpa, "psi"),
        "suction_psi": "" if pump.model.is_well else _round(pump.suction_kpa / PSI),
        "tank_gal": _round(pump.tank_l / GAL, 1),
        "supply_wire_awg": str(awg[pump.wire_mm2]),
        "supply_wire_ft": _round(pump.wire_m / FOOT_M),
        "motor_lead_ft": _round(pump.lead_m / FOOT_M),
    }


def _suction_kind(pump: PumpSet) -> str:
    if pump.model.is_well:
        return "well"
    return "tank" if pump.suction_kpa <= 20 else "flooded"


def pump_row(pump: PumpSet, is_metric: bool, rng: np.random.Generator) -> dict[str, str]:
    """What the register says of a pump set, as text by column."""
    amps = pump.service_factor_amps
    pump.register.setdefault("motor_kw", pump.model.shaft_kw)
    pump.register.setdefault("rated_amps", pump.rated_amps)
    pump.register.setdefault("service_factor_amps", amps)
    pump.register.setdefault("overload_setting_amps", _setting_a(amps))
    installed = f"{int(rng.integers(2016, 2026))}-{int(rng.integers(1, 13)):02d}-15"
    if pump.replaced:
        installed = pump.cal.date_text(pump.replaced[0])
    return {
        "pump_id": pump.pump_id,
        "site_id": pump.site_id,
        "pump_model": pump.model.pump_model,
        "motor_model": pump.model.motor_model,
        "controller_model": CONTROLLERS[0 if pump.rated_amps < 8 else 1],
        "motor_volts": str(pump.motor_volts),
        "rated_amps": str(pump.register["rated_amps"]),
        "service_factor_amps": str(pump.register["service_factor_amps"]),
        "overload_setting_amps": str(pump.register["overload_setting_amps"]),
        "supply_volts": str(pump.supply_volts),
        "supply_phases": str(pump.supply_phases),
        "max_hz": _round(pump.max_hz, 1),
        "min_hz": _round(pump.min_hz, 1),
        "ramp": str(pump.register["ramp"]),
        "suction": _suction_kind(pump),
        "output_filter": "yes" if pump.has_filter else "no",
        "installed_on": installed,
        **(_metric(pump) if is_metric else _customary(pump)),
    }


def _setting_a(service_factor_amps: float) -> float:
    """The service-factor amps, or the next lower tenth that the dial offers."""
    return round(int(service_factor_amps * 5) / 5, 1)


def site_rows(
    site_places: Sequence[tuple[str, str]], rng: np.random.Generator
) -> dict[str, SiteRow]:
    """Rows of all sites from their ids and places, keyed by id."""
    names = [f"{first} {last}" for first in FIRST_NAMES for last in LAST_NAMES]
    picked = rng.permutation(len(names))
    rows = {}
    for n, (site_id, place) in enumerate(site_places):
        region, zone = PLACES[place][int(rng.integers(len(PLACES[place])))]
        rows[site_id] = SiteRow(
            site_id,
            names[picked[n]],
            zone,
            region,
            CREWS[int(rng.integers(len(CREWS)))],
            f"C-{int(rng.integers(1000, 9999))}",
            "si" if place == "eu" else "us",
            *(("", "", "") if place == "eu" else TARIFF),
        )
    return rows


def curve_rows(model_names: Iterable[str]) -> list[dict[str, str]]:
    """Published points of the models at rated speed, as a maker would print them."""
    rows = []
    for name in sorted(set(model_names)):
        model = MODELS[name]
        for share in (0.0, 0.25, 0.5, 0.75, 1.0, 1.2):
            flow = share * model.curve.best_flow_lpm
            boost = float(model.curve.boost_kpa(flow, model.curve.rated_hz))
            shaft = (
                model.shaft_kw * 0.85 * float(model.curve.torque_share(flow, model.curve.rated_hz))
            )
            hydraulic = flow / 60_000 * boost
            rows.append(
                {
                    "pump_model": name,
                    "flow_lpm": _round(flow, 1),
                    "head_m": _round(boost / KPA_PER_M, 2),
                    "efficiency_pct": _round(100 * hydraulic / shaft, 1),
                    "shaft_kw": _round(shaft, 3),
                }
            )
    return rows


def code_rows() -> list[dict[str, str]]:
    """The company's own list of fault codes."""
    return [
        {"controller_model": controller, "fault_code": code, "meaning": meaning}
        for controller in CONTROLLERS
        for code, meaning in FAULT_CODES
    ]


def write_table(path: Path, columns: Sequence[str], rows: Iterable[dict[str, str]]) -> None:
    """Write a CSV table, UTF-8, one header row."""
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, columns, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)

"""The words pages, terminal and exports use for kinds, causes, states and answers."""

from collections.abc import Mapping

from analysis import wording

MONTHS = ("", "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

KINDS: Mapping[str, str] = {
    "short_cycling": "Short cycling",
    "undervoltage": "Undervoltage",
    "overload_margin": "Overload margin",
    "leak": "Leak",
    "dry_running": "Dry running",
    "weak_delivery": "Weak delivery",
    "sensor_fault": "Sensor fault",
    "hunting": "Hunting",
    "overheating": "Overheating",
    "data_gap": "Data gap",
    "controller_trip": "Controller trip",
    "setting": "Setting",
}

CAUSES: Mapping[str, str] = {
    "tank_charge_lost": "tank charge lost",
    "leak": "a leak",
    "low_demand": "small steady demand",
    "supply_wiring": "supply wiring",
    "supply_source": "supply at the source",
    "rising_load": "rising load",
    "high_load": "high load from the start",
    "downstream": "downstream of the pump",
    "check_valve": "check valve",
    "suction_lost": "suction lost",
    "wrong_rotation": "wrong rotation",
    "worn_or_blocked": "pump worn or blocked",
    "low_voltage": "low voltage",
    "stuck": "reading stuck",
    "out_of_range": "reading out of range",
    "offset": "reading offset",
    "ramp_too_fast": "ramp too fast",
    "overload_setting_amps": "overload setting",
    "min_hz": "minimum speed",
    "max_hz": "maximum speed",
    "ramp": "ramp",
    "precharge": "tank pre-charge",
    "tank": "tank size",
    "output_filter": "output filter",
    "supply_wire": "supply conductor",
    "pressure_setting": "pressure setting",
    "supply_volts": "supply volts against motor volts",
    "rated_amps": "rated amps",
    "service_factor_amps": "service-factor amps",
}

STATES: Mapping[str, str] = {
    "new": "new this week",
    "worse": "worse than last week",
    "same": "same as last week",
    "better": "better than last week",
    "back": "back after a fix",
}

STATUSES: Mapping[str, str] = {
    "found": "found",
    "clear": "clear",
    "not_assessed": "not assessed",
    "no_data": "no data",
    "shut_down": "shut down",
}


def kind_text(kind: str) -> str:
    """Return the name of a kind as people say it; a kind without one is shown as it is."""
    return KINDS.get(kind, kind.replace("_", " "))


def cause_text(cause: str) -> str:
    """Return the name of a cause as people say it; "" says that the log does not tell.

    A cause without a name is the code a controller showed.
    """
    if not cause:
        return "cause not told by the log"
    return CAUSES.get(cause, f"code {cause}")


def state_text(state: str) -> str:
    """Return what changed since last week."""
    return STATES.get(state, state)


def confidence_text(confidence: float) -> str:
    """Return how sure a finding is, in words with the figure: "likely (0.70)"."""
    return f"{wording.confidence_text(confidence)} ({confidence:.2f})"

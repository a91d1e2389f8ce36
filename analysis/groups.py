"""What pumps are grouped by, and which group a pump stands in."""

from collections.abc import Callable, Mapping
from datetime import date

from ingest.installed_base import Pump, Register

NOT_REGISTERED = "not in the register"

GROUPINGS: Mapping[str, str] = {
    "pump_model": "pump model",
    "motor_model": "motor model",
    "installer": "installer",
    "region": "region",
    "age_band": "age",
}
"""What pumps are grouped by, and how a page names it."""

AGE_BANDS: tuple[tuple[float, str], ...] = (
    (1.0, "under 1 year"),
    (3.0, "1 to 3 years"),
    (7.0, "3 to 7 years"),
    (200.0, "7 years and older"),
)
"""Upper end of each band, years: ours; early faults, warranty, mid-life, wear."""


def groups_of(register: Register, as_of: date) -> dict[str, dict[str, str]]:
    """Group of each pump, by grouping and pump id; ages are those of a day."""
    readers: dict[str, Callable[[Pump], str | None]] = {
        "pump_model": lambda pump: pump.pump_model,
        "motor_model": lambda pump: pump.motor_model,
        "installer": lambda pump: register.sites[pump.site_id].installer,
        "region": lambda pump: register.sites[pump.site_id].region,
        "age_band": lambda pump: age_band(pump.installed_on, as_of),
    }
    return {
        grouping: {
            pump_id: readers[grouping](pump) or NOT_REGISTERED
            for pump_id, pump in register.pumps.items()
        }
        for grouping in GROUPINGS
    }


def age_band(installed_on: date | None, as_of: date) -> str | None:
    """Band of an age in years; None where the day of installation is not known or to come."""
    if installed_on is None or installed_on > as_of:
        return None
    years = (as_of - installed_on).days / 365.25
    return next(name for end, name in AGE_BANDS if years < end)

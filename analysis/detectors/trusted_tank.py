"""The registered pressure tank, where register and log allow Boyle's law to be used on it."""

from dataclasses import dataclass

from analysis.case import Case
from analysis.limits import PRESSURE_SCALE_OFF


@dataclass(frozen=True)
class Tank:
    """Whole volume and gas pressure without water [L, kPa gauge]."""

    tank_l: float
    precharge_kpa: float


def trusted_tank(case: Case) -> Tank | None:
    """Tank as registered; None where a figure is blank or the pressures are plainly off in scale.

    A log in the wrong unit holds a multiple of the pressure setting, and then every litre worked
    out from its pressures is wrong.
    """
    pump, held_kpa = case.pump, case.week.held_pressure_kpa
    if pump.tank_l is None or pump.precharge_kpa is None:
        return None
    if pump.pressure_setting_kpa and held_kpa:
        off = max(held_kpa / pump.pressure_setting_kpa, pump.pressure_setting_kpa / held_kpa)
        if off > PRESSURE_SCALE_OFF.value:
            return None
    return Tank(pump.tank_l, pump.precharge_kpa)

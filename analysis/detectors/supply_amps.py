"""What a pump takes from its supply: as logged, else estimated from its motor's amps."""

from analysis.case import Case
from analysis.physics.electrical import MAGNETISING_SHARE, drive_supply_current_a
from analysis.physics.working_current import rated_power_factor
from ingest.installed_base import Pump


def estimated_supply_a(
    pump: Pump, motor_a: float, hz: float, magnetising_share: float | None = None
) -> float:
    """Supply current [A] behind a motor current at registered volts; NaN where those are blank.

    ``magnetising_share`` is of the rated amps; the usual one where it is None.
    """
    share = MAGNETISING_SHARE.value if magnetising_share is None else magnetising_share
    supply_v = pump.supply_volts or float("nan")
    return float(
        drive_supply_current_a(
            motor_a,
            hz,
            pump.max_hz,
            supply_v,
            pump.motor_volts or supply_v,
            pump.supply_phases,
            motor_phases=pump.motor_phases or 3,
            rated_a=pump.rated_amps or None,
            magnetising_share=share,
            motor_power_factor=rated_power_factor(share),
        )
    )


def heavy_supply_a(case: Case) -> float:
    """Supply current of the week's heavy draws [A], at least that just after a start.

    The 95th percentile: as logged, else of motor current and frequency, which a pump that holds
    its pressure reaches together.
    """
    week = case.week
    motor_a, hz = week.current_p95_a, week.frequency_p95_hz
    known_a = [week.pair_supply_a or 0.0, week.input_current_p95_a or 0.0]
    if not week.supply_current_is_logged and motor_a is not None and hz is not None:
        known_a.append(estimated_supply_a(case.pump, motor_a, hz, week.magnetising_share))
    return max(known_a)

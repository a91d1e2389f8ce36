"""What a pump takes from its supply at heavy draws: as logged, else estimated."""

from analysis.case import Case
from analysis.supply_current import estimated_supply_a


def heavy_supply_a(case: Case) -> float:
    """Supply current of the week's heavy draws [A], at least that just after a start.

    The 95th percentile: as logged, else of motor current and frequency, which a pump that holds
    its pressure reaches together.
    """
    week = case.week
    motor_a, hz = week.current_p95_a, week.frequency_p95_hz
    known_a = [week.pair_supply_a or 0.0, week.input_current_p95_a or 0.0]
    if not week.supply_current_is_logged and motor_a is not None and hz is not None:
        supply_v = case.pump.supply_volts or float("nan")
        known_a.append(
            float(estimated_supply_a(case.pump, motor_a, hz, supply_v, week.magnetising_share))
        )
    return max(known_a)

"""A week of a leaking pressure tank in closed form, from Boyle's law written out anew.

The pump stops at one pressure; the leak empties the tank to another, which takes the water
between the two over the leak; the pump refills it in a set time.
"""

import numpy as np

PSI_KPA = 6.894757
GAL_L = 3.785412
WEEK_S = 7 * 86400
AIR_PSI = 14.7


def leaking_tank(
    *,
    leak_lpm,
    interval_s,
    tank_gal=4.4,
    precharge_psi=42.0,
    stop_psi=60.0,
    restart_psi=55.0,
    refill_s=25.0,
    noise_psi=0.0,
    step_psi=0.0,
    seed=1,
    length_s=WEEK_S,
):
    """Time and channels of the week; pressure rounded to ``step_psi`` after noise."""
    gas = tank_gal * GAL_L * (precharge_psi + AIR_PSI)  # litres x psi, absolute
    stored_l = gas / (restart_psi + AIR_PSI) - gas / (stop_psi + AIR_PSI)
    off_s = stored_l / leak_lpm * 60.0
    t_s = np.arange(0.0, length_s, interval_s)
    phase_s = t_s % (off_s + refill_s)
    is_off = phase_s < off_s
    gas_l = gas / (stop_psi + AIR_PSI) + leak_lpm * np.minimum(phase_s, off_s) / 60.0
    falling_psi = gas / gas_l - AIR_PSI
    filling_psi = restart_psi + (stop_psi - restart_psi) * np.minimum(
        1.0, (phase_s - off_s) / (0.3 * refill_s)
    )
    psi = np.where(is_off, falling_psi, filling_psi)
    psi = psi + np.random.default_rng(seed).normal(0.0, noise_psi, t_s.size)
    if step_psi:
        psi = np.round(psi / step_psi) * step_psi
    running_hz = np.where(is_off, 0.0, 45.0)
    return {
        "t_s": t_s,
        "pressure_kpa": psi * PSI_KPA,
        "frequency_hz": running_hz,
        "current_a": np.where(is_off, 0.0, 4.0),
    }

"""How the invented drive guards its motor: an overload that heats up, and codes."""

from math import exp, inf, log

OVERLOAD, LOW_VOLTS, DRY, GROUND_FAULT = 11, 12, 21, 23
OVERLOAD_WAIT_S = 900.0  # until the drive tries again after an overload: ours


class Overload:
    """A motor overload that keeps the motor's heat, 1 at the trip.

    Heat goes to ``(I / setting)**2`` with one time constant, as in the thermal replica of
    IEC 60255-149: the trip comes after ``tau ln((I**2 - Ip**2) / (I**2 - Ib**2))`` from the
    heat of a steady current ``Ip``.
    """

    def __init__(self, setting_a: float, tau_s: float) -> None:
        self.setting_a, self.tau_s = setting_a, tau_s
        self.heat = 0.0

    def trips_after_s(self, current_a: float) -> float:
        """Time until the trip at a steady current, endless if it never trips [s]."""
        steady = (current_a / self.setting_a) ** 2
        if steady <= 1:
            return inf
        return max(0.0, self.tau_s * log((steady - self.heat) / (steady - 1)))

    def pass_time(self, current_a: float, lasts_s: float) -> None:
        """Heat up or cool down for some time at a steady current."""
        steady = (current_a / self.setting_a) ** 2
        self.heat = steady + (self.heat - steady) * exp(-lasts_s / self.tau_s)

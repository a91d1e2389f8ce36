"""Every threshold once, with its unit and source; detectors and pages take them from here."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Limit:
    """A threshold, what it counts, and where it comes from.

    ``source`` names a published source, or says "common practice", or "ours:" and the reason.
    """

    value: float
    unit: str
    source: str


VOLTAGE_TOLERANCE_PCT = Limit(10, "% of rated volts", "NEMA MG 1-12.44")

# -- memory over weeks
CLEAN_WEEKS_TO_CLOSE = Limit(
    2, "clear weeks", "ours: 14 clean days, so that a fault that rests a week is not called new"
)
WORSE_SHARE = Limit(
    0.25, "share of the last size", "ours: less is within a week's own scatter of use"
)

MEMORY_WEEKS = Limit(
    26, "weeks", "ours: half a year back decides between 'back' and 'new'; more is only history"
)

# -- choosing the week to report
REPORT_WEEK_SHARE = Limit(
    0.5, "share of the pumps that ever sent data", "ours: 'most pumps' read as half or more"
)

# -- supply of a neighbourhood
IDLE_LOW_PCT = Limit(
    95, "% of supply_volts at the 5th percentile of idle volts", "ANSI C84.1 Range A service"
)

# -- drift of current over weeks
DRIFT_MIN_WEEKS = Limit(3, "weeks that share bins", "common practice: fewer are weather or use")
DRIFT_BIN_MIN_SAMPLES = Limit(
    10, "settled samples a bin and week", "ours: the mean of fewer hangs on single readings"
)
DRIFT_BIN_MIN_HELD_S = Limit(
    300, "s a bin and week", "ours: less is passing through the bin, not running in it"
)

# -- measuring a week's log
GAP_MIN_S = Limit(60, "s", "ours: a logger may pause a minute without the pump being in doubt")
GAP_INTERVALS = Limit(
    5, "log intervals", "ours: a few samples may be missing without the state being in doubt"
)
SLEEP_INTERVAL_MAX_S = Limit(
    900, "s", "ours: loggers that slow down while the pump sleeps still write every 15 min"
)
RUNNING_ABOVE_HZ = Limit(1, "Hz", "ours: no drive turns a pump at 1 Hz; below is a zero's noise")
SETTLE_S = Limit(
    10, "s after a start", "common practice: ramp and current of the first 5 to 10 s are left out"
)
FALL_SETTLE_S = Limit(
    5, "s after a stop", "ours: spin-down and the closing of the check valve are over by then"
)
FALL_SETTLE_SHARE = Limit(
    0.25, "share of a stop", "ours: of a short stop at most a quarter is left out as settling"
)
FALL_SAMPLES_MIN = Limit(
    5, "samples", "ours: a line through fewer follows the rounding of single samples"
)
RAMP_BELOW_MIN_S = Limit(
    4, "s per start or stop", "ours: drives pass the range below min_hz within a second or two"
)
AVERAGED_ROWS_MIN_SHARE = Limit(
    0.25, "samples below min_hz per start or stop", "ours: instants fall there far less often"
)
QUIET_HOURS = Limit(3, "h", "ours: trade practice looks at the quietest 2 to 3 h of a night")
NIGHT_OBSERVED_SHARE = Limit(
    0.8, "share of the quiet window", "ours: a leak must show in all of it, so most must be seen"
)
FLAT_BLOCK_S = Limit(300, "s", "ours: means of 5 min stand clear of a sensor's noise")
FLAT_BLOCKS_MIN = Limit(
    3, "blocks of 5 min", "ours: pressure that keeps for 15 min shows nobody drew and nothing leaks"
)
FLAT_KPA = Limit(0.35, "kPa", "ours: half of 0.1 psi, the finest step common sensors show")
VOLTAGE_LOW_PCT = Limit(90, "% of nominal volts", "NEMA MG 1-12.44; EN 50160")
VOLTAGE_RANGE_A_PCT = Limit(95, "% of supply_volts", "ANSI C84.1 Range A service")
VOLTAGE_VERY_LOW_PCT = Limit(85, "% of supply_volts", "EN 50160: -15 % at any time")
VOLTAGE_HIGH_PCT = Limit(110, "% of supply_volts", "NEMA MG 1-12.44; EN 50160")
VOLTAGE_INTERRUPTED_PCT = Limit(
    10, "% of supply_volts", "IEEE 1159: below 0.1 pu is an interruption, not an undervoltage"
)
VOLTAGE_SENTINEL_PCT = Limit(
    200, "% of supply_volts", "ours: no supply reaches it; 999, 3276.7 or 65535 mean no reading"
)
UNDERVOLTAGE_DAY_S = Limit(60, "s a day", "ours: leaves out starting sags")
FULL_SPEED_SHARE = Limit(
    0.9, "share of max_hz", "ours: below, the motor needs less than its rated volts"
)
PAIR_WINDOW_S = Limit(
    60, "s before and after a start", "ours: the supply itself moves little in a minute"
)
PAIR_CURRENT_MIN_A = Limit(
    0.5, "A", "ours: a smaller step is lost in the rounding of volts and amperes"
)
SHORT_OF_SETTING_SHARE = Limit(
    0.1, "share of the pressure setting", "ours: a user notices a tenth; noise is far less"
)
DIP_MIN_S = Limit(5, "s", "ours: shorter dips are the drive's normal reaction time")
DIP_INTERVAL_MAX_S = Limit(15, "s", "ours: a dip must span two samples to be told from noise")
AT_MAX_WITHIN_HZ = Limit(0.5, "Hz", "ours: rounding and slip of a drive's own frequency reading")
CEILING_SHORT_SHARE = Limit(
    0.05, "share of the pressure setting", "ours: a drive that could would hold it closer"
)
CEILING_MIN_S = Limit(60, "s a week", "ours: leaves out the filling of an empty line")
CEILING_BAND_SHARE = Limit(0.03, "share of the current", "ours: noise of a held current")
CEILING_PILE_SHARE = Limit(
    0.6, "share of the time held back", "ours: a ceiling is one value; anything else scatters"
)
CEILING_ABOVE_SHARE = Limit(
    0.01, "share of settled running", "ours: above a true ceiling there is nothing but overshoot"
)
SHUT_DOWN_KPA = Limit(20, "kPa", "ours: 3 psi, an empty line's sensor offset")
THERMAL_TAU_S = Limit(
    355, "s", "derived: IEC 60255-149 replica that trips at 6 x in 10 s, NEMA class 10"
)
THERMAL_K = Limit(1.0, "times the setting", "ours: the setting itself is taken as the limit")
KNEE_RATIO = Limit(
    5, "slope below over slope above", "ours: with the tank empty only pipes give, 5 to 50 times"
)

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


# -- memory over weeks
CLEAN_WEEKS_TO_CLOSE = Limit(
    2, "clear weeks", "ours: 14 clean days, so that a fault that rests a week is not called new"
)
CLEAN_OBSERVED_SHARE = Limit(
    0.8, "share of the week", "common practice: what was not seen is not known to be clean"
)
CLOSE_INSIDE_SHARE = Limit(
    0.1, "share of the least size found", "common practice: a tenth or more inside what opened it"
)
CLOSE_INSIDE_AMPS_SHARE = Limit(
    0.03, "share of the least amps found", "ours: past a current sensor's own wander"
)
WORSE_SHARE = Limit(
    0.25, "share of the last size", "ours: less is within a week's own scatter of use"
)

MEMORY_WEEKS = Limit(
    26, "weeks", "ours: half a year back decides between 'back' and 'new'; more is only history"
)

PAST_WEEKS = Limit(
    26, "weeks", "ours: half a year has a pump's habits in it, and keeps a scan's cost flat"
)
LONG_PAST_STEP_WEEKS = Limit(
    13, "weeks", "ours: wear and drift over years show as well from one week a quarter"
)
LONG_PAST_WEEKS = Limit(
    260, "weeks", "ours: over five years, a borehole's level and its use are not the same any more"
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
DRIFT_EDGE_HZ = Limit(
    0.25,
    "Hz",
    "ours: by the cube of the affinity laws under 2 % of current, which is no drift yet",
)
DRIFT_WEEK_SHARE = Limit(
    0.25,
    "of the median week's time in shared bins",
    "ours: a log that begins or ends in mid-week leaves a day or less, of some bins only",
)
DRIFT_WEEK_ENOUGH_S = Limit(
    3600, "s a week in shared bins", "ours: an hour's mean is a week's, however long others ran"
)

# -- expected current
EXPECTED_MIN_WEEKS = Limit(2, "earlier weeks", "ours: of one week alone none can be left out")
EXPECTED_MIN_BINS = Limit(
    10, "bins of a week", "ours: two for each of the five numbers that are fitted"
)
EXPECTED_BIN_MIN_SAMPLES = Limit(
    5, "settled samples a bin and week", "ours: the mean of fewer hangs on single readings"
)
EXPECTED_BIN_MIN_HELD_S = Limit(
    60, "s a bin and week", "ours: less is passing through the bin, not running in it"
)
EXPECTED_HELD_CAP_S = Limit(
    3600, "s", "ours: an hour tells a bin's mean; one busy bin must not lead the fit"
)
EXPECTED_PRESSURE_MIN_PCT = Limit(
    50, "% of the pressure setting", "ours: with half of the pressure gone the pump may be dry"
)
EXPECTED_MIN_BAND_PCT = Limit(
    1.0, "% of the level", "ours: a current sensor's own wander from week to week"
)
EXPECTED_WORST_ERROR_PCT = Limit(
    15, "% of the level", "ours: half of the least loss of current that says a pump is dry"
)
EXPECTED_REACH_SHARE = Limit(
    0.1, "share of the highest speed seen", "ours: the affinity laws hold, the data end"
)

# -- steps between weeks
STEP_OVER_NOISE = Limit(
    4, "times the scatter from week to week", "ours: chance makes one in thousands that large"
)
STEP_AT_ONCE_SHARE = Limit(
    0.6, "share of a step between two weeks", "ours: a creep of three weeks or more has less"
)

# -- no-flow speed
LAST_PAIR_HZ = Limit(
    1.0, "Hz between the last two samples before a stop", "ours: a control at rest holds closer"
)
NO_FLOW_MIN_WEEKS = Limit(3, "weeks with an f0", "common practice: fewer are weather or use")
NO_FLOW_MIN_STARTS = Limit(10, "starts a week", "ours: a no-flow speed from fewer stops is chance")
NO_FLOW_SPREAD_HZ = Limit(1.5, "Hz", "ours: stops out of high flow scatter more")
NO_FLOW_CHANGE_HZ = Limit(
    1.0, "Hz over the weeks seen", "ours: at 60 psi a sensor 2 psi off moves f0 by 0.75 Hz"
)
NO_FLOW_FLOOR_HZ = Limit(0.2, "Hz from week to week", "ours: resolution and a well's usual level")

# -- flow without a meter
FLOW_PRESSURE_ERROR_KPA = Limit(13.79, "kPa", "common practice: a sensor 2 psi off is usual")
FLOW_CURVE_PCT = Limit(
    5, "% of the published head", "ours: what makers let series pumps differ from their curve"
)
FLOW_NO_FLOW_ERROR_HZ = Limit(
    0.5, "Hz", "ours: a drive that looks for no flow sees it within half a hertz"
)
FLOW_CURVE_MIN_SCALE = Limit(
    0.6, "times the published head", "ours: a pump that lost more gives no pressure to speak of"
)
FLOW_CURVE_MAX_SCALE = Limit(
    1.2, "times the published head", "ours: no pump is that much better than its curve"
)
FLOW_METER_APART_PCT = Limit(
    10, "% between meter and curve", "ours: twice what a meter in service is off"
)
FLOW_ENERGY_RATIO = Limit(
    2, "upper end over value", "ours: a figure that may as well be twice as much is none"
)
FLOW_MIN_WEEKS = Limit(3, "weeks with both", "common practice: fewer are weather or use")
FLOW_SEEN_SHARE = Limit(
    0.5, "share of running time", "ours: a volume from less of it would be a guess"
)

# -- when water is drawn
DRAW_JOIN_S = Limit(
    300, "s between runs", "ours: a trickle refills a small tank every few minutes"
)
DRAW_NIGHT_S = Limit(900, "s", "ours: longer than a toilet or a glass of water by night")
DRAW_LONG_S = Limit(3600, "s", "ours: longer than a household's showers and machines")
DRAWS_KEPT = Limit(40, "draws a week", "ours: nearly six a day; more is use, not a calendar")
RHYTHM_START_MIN = Limit(20, "min", "ours: timers keep to minutes, but zones and clocks shift")
RHYTHM_LENGTH_SHARE = Limit(0.25, "share of the length", "ours: flows and pressures vary a little")
RHYTHM_TIMES = Limit(3, "draws alike", "ours: two are a coincidence")
RHYTHM_TIMER_TIMES = Limit(
    4, "draws alike", "ours: three share a common step of days by chance one time in six"
)
RHYTHM_TIMER_MIN = Limit(10, "min off the usual beginning", "ours: people are not that punctual")
RHYTHM_KEPT_SHARE = Limit(
    0.75, "share of the days it would fall on", "ours: a rain sensor or a gap skips some"
)
RHYTHM_FILL_S = Limit(14400, "s in one run", "ours: four hours are a pool or a tank, not a bath")
RHYTHM_LONGEST_MIN = Limit(
    1080, "min", "ours: what runs on for more than 18 h is a leak or a process, not a draw"
)
RHYTHM_HOURS_MIN = Limit(48, "pairs of hours", "ours: a correlation of fewer hangs on a day")
RHYTHM_SHOWN = Limit(0.4, "correlation of hours", "ours: below it two days are not much alike")
IDLE_SHARE = Limit(
    0.02, "of a usual day's running", "ours: what a leak, an icemaker or a test leaves"
)

# -- where a pump's past begins anew
BASELINE_MIN_WEEKS = Limit(3, "weeks", "ours: of two weeks neither is known to be the rule")
BASELINE_PRESSURE_PCT = Limit(
    3, "% of the held pressure", "ours: 2 psi at 60; a hold scatters by less from week to week"
)
BASELINE_PRESSURE_FLOOR_PCT = Limit(
    0.5, "% of the held pressure", "ours: resolution of sensor and setting"
)
BASELINE_SHORT_SHARE = Limit(
    0.1, "share of running time", "ours: a pump that falls short holds no setting"
)
BASELINE_NO_FLOW_HZ = Limit(
    1.5, "Hz less than before", "ours: a pump end is better by a step only when it is another"
)
BASELINE_CURRENT_PCT = Limit(
    5, "% at like speed and pressure", "ours: another motor or pump end; water moves less"
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
FALL_RESOLVED_KPA_PER_MIN = Limit(
    0.5, "kPa/min", "ours: one step of the sensor over the stop; a flat hold is known that well"
)
UNSEEN_RUN_KPA = Limit(
    10, "kPa between stopped samples", "ours: 1.5 psi; water that warms rises far slower than that"
)
UNSEEN_RUN_STEPS = Limit(3, "steps of the sensor", "ours: rounding and noise jump by one or two")
RAMP_BELOW_MIN_S = Limit(
    4, "s per start or stop", "ours: drives pass the range below min_hz within a second or two"
)
AVERAGED_ROWS_MIN_SHARE = Limit(
    0.25, "samples below min_hz per start or stop", "ours: instants fall there far less often"
)
AVERAGED_SIGMAS = Limit(
    2,
    "standard deviations of a Poisson count",
    "ours: common practice for telling a count from chance, one in forty",
)
QUIET_HOURS = Limit(3, "h", "ours: trade practice looks at the quietest 2 to 3 h of a night")
NIGHT_OBSERVED_SHARE = Limit(
    0.8, "share of the quiet window", "ours: a leak must show in all of it, so most must be seen"
)
FLAT_BLOCK_S = Limit(300, "s", "ours: means of 5 min stand clear of a sensor's noise")
FLAT_BLOCKS_MIN = Limit(
    3,
    "blocks of 5 min",
    "ours: pressure that keeps for 15 min shows nobody drew and nothing leaks",
)
FLAT_SAMPLES_MIN = Limit(5, "samples", "ours: fewer may be alike by chance, between missed runs")
FLAT_KPA = Limit(0.35, "kPa", "ours: half of 0.1 psi, the finest step common sensors show")
VOLTAGE_LOW_PCT = Limit(90, "% of nominal volts", "NEMA MG 1-12.44; EN 50160")
VOLTAGE_RANGE_A_PCT = Limit(95, "% of supply_volts", "ANSI C84.1 Range A service")
VOLTAGE_VERY_LOW_PCT = Limit(85, "% of supply_volts", "EN 50160: -15 % at any time")
VOLTAGE_HIGH_PCT = Limit(110, "% of supply_volts", "NEMA MG 1-12.44; EN 50160")
VOLTAGE_INTERRUPTED_PCT = Limit(
    10, "% of supply_volts", "IEEE 1159: below 0.1 pu is an interruption, not an undervoltage"
)
VOLTAGE_SENTINEL_PCT = Limit(
    240,
    "% of supply_volts",
    "ours: past the widest mix-up of nominal volts; 999 or 65535 is no reading",
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
CEILING_SAMPLES_MIN = Limit(10, "samples", "ours: a few samples of a slow log can agree by chance")
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

# -- certainty
CONFIDENCE_FLOOR = Limit(0.05, "0-1", "ours: what is reported at all is never ruled out")
CONFIDENCE_CEILING = Limit(0.95, "0-1", "ours: a log is no inspection, so nothing is certain")
SPELL_BREAK_DAYS = Limit(7, "days", "ours: a fault shown weekly is one spell, not several")

# -- undervoltage
LOW_VOLTAGE_RUN_SHARE = Limit(
    0.10, "share of running time", "ours: less is the brief excursion that every service has"
)
LOW_VOLTAGE_CLEAR_PCT = Limit(
    94.0,
    "% of supply_volts at the 5th percentile",
    "ours: a point under Range A, past meter error",
)
LOW_VOLTAGE_HOURS = Limit(
    2, "hours of the day", "ours: one low hour is a neighbour's oven, two are a daily shape"
)
LOW_VOLTAGE_DAY_S = Limit(60, "s a day", "ours: as for 90 %, so that a starting sag is no day")
UNDERVOLTAGE_DAY_S = Limit(60, "s a day", "ours: leaves out starting sags and single samples")
UNDERVOLTAGE_DAYS = Limit(2, "days", "ours: once is weather, twice is a supply")
UNDERVOLTAGE_ONE_DAY_S = Limit(
    600, "s", "ours: what a single day must show where no second day could be seen"
)
UNDERVOLTAGE_SETTLED_PCT = Limit(
    91.5, "% at the 5th percentile", "ours: low volts that last, with a voltmeter's own 1.5 %"
)
SAG_MEAN_S = Limit(10, "s a spell", "ours: a motor's start is over by then")
SAG_MEAN_SAMPLES = Limit(2.5, "samples a spell", "ours: one or two samples can be one dip")
DEEP_UNDERVOLTAGE_S = Limit(60, "s a week", "ours: leaves out single samples")
DEEP_SETTLED_PCT = Limit(87, "% at the 5th percentile", "ours: as at 90 %, 2 % for the voltmeter")
DEEP_LONG_S = Limit(600, "s a week", "ours: too long for starting sags at any start count")
FULL_SPEED_UNDERVOLTAGE_S = Limit(
    120, "s a week", "ours: two days of 60 s, at a speed where the motor needs all its volts"
)
GAP_AFTER_DIP_S = Limit(3600, "s", "ours: a supply that takes the logger with it stays away")
LONGEST_OUTAGE_S = Limit(
    86400, "s", "ours: a longer silence is no outage bridged by a generator the same night"
)
SUPPLY_MISMATCH_LOW = Limit(
    0.95, "supply_volts over motor_volts", "ours: half of NEMA MG 1-12.44's 10 %, kept for drops"
)
SUPPLY_MISMATCH_HIGH = Limit(1.10, "supply_volts over motor_volts", "NEMA MG 1-12.44")
WIRING_DROP_PCT = Limit(3, "% of supply_volts", "NEC 210.19 informational note, branch circuit")
WIRING_DROP_TOTAL_PCT = Limit(
    5, "% of supply_volts", "NEC 215.2 informational note, feeder and branch circuit"
)
WIRE_RESISTANCE_RATIO = Limit(
    1.5, "times the registered wire's ohms", "ours: stranding, warmth and lugs stay well below"
)
WIRE_COLD_C = Limit(
    0, "C, coldest a pump's wire gets", "ours: buried or indoors, it does not freeze for long"
)
EXCESS_DROP_PCT = Limit(
    2.0, "% of supply_volts", "ours: the share of a drop that a healthy service itself can take"
)
PAIRS_MIN = Limit(5, "starts", "ours: a median of fewer hangs on single readings")
PAIRS_USUAL_SHARE = Limit(
    0.25,
    "share of a usual week's starts",
    "ours: a log's first hours have fewer, and too few to compare weeks by a quarter",
)
DROP_STEADY_SHARE = Limit(
    0.25, "share of the drop", "ours: night and evening differ less where only the own load acts"
)
JOINT_GROWTH_RATIO = Limit(
    1.25, "times the first weeks' ohms", "ours: 40 K of copper make 1.16, so this is no season"
)
JOINT_GROWTH_PCT = Limit(
    1.0, "% of supply_volts at heavy draw", "ours: a hand meter shows as much"
)
JOINT_RISING_SHARE = Limit(
    0.8, "share of pairs of weeks that rise", "ours: chance gives a half, one odd week is allowed"
)
JOINT_HEAT_W = Limit(5, "W", "NBSIR 76-1011: a connection that glows at 0.8 A makes as much")
DAILY_SHAPE_PCT = Limit(
    2.5, "% of supply_volts", "ours: idle volts of a stiff service move less over the day"
)
NEIGHBOURS_MIN = Limit(2, "other sites", "ours: one low neighbour is a coincidence")
NEIGHBOURS_SHARE = Limit(0.5, "share of other sites", "ours: half or more sag with a feeder")

# -- register against log
SUPPLY_OFF_PCT = Limit(
    12, "% of supply_volts", "ours: past NEMA MG 1's 10 % and a voltmeter's error of 2 %"
)
SUPPLY_OFF_ALWAYS_PCT = Limit(
    10, "% of supply_volts", "NEMA MG 1-12.44; its best hours are out of the motor's range too"
)
SUPPLY_OFF_FAR_PCT = Limit(30, "% of supply_volts", "ours: no service is that low for a week")
SUPPLY_STEADY_PCT = Limit(
    8, "% between 5th and 95th percentile", "ours: a service that sags that deep moves more"
)
SUPPLY_ONCE_RIGHT_PCT = Limit(
    8, "% of supply_volts", "ours: a week within it shows that the registered supply is right"
)
AMPS_OFF_RATIO = Limit(
    1.5, "times service_factor_amps, at the median", "ours: an overload would have tripped"
)
AMPS_OFF_P95_RATIO = Limit(
    1.4,
    "times service_factor_amps, at the 95th percentile, the median over them as well",
    "ours: half of a week over the limit and no trip is another motor",
)
PRESSURE_OFF_PCT = Limit(5, "% of the pressure setting", "ours: twice a common sensor's error")
PRESSURE_OFF_STOP_PCT = Limit(4, "% of the pressure setting", "ours: the stops must agree")
PRESSURE_OFF_RUN_S = Limit(1800, "s a week", "ours: less running shows no held pressure")
PRESSURE_OFF_RUN_SAMPLES = Limit(
    3, "samples a run", "ours: the first falls in the ramp, the last in the stop, one shows a hold"
)
PRESSURE_OFF_RUN_MEDIAN_S = Limit(30, "s", "ours: shorter runs overshoot and hold nothing")
SHORT_AT_MAX_SHARE = Limit(
    0.10, "share of running time", "ours: then it may fall short because it cannot do more"
)
SPEED_OFF_HZ = Limit(0.5, "Hz at the 95th percentile", "ours: resolution of a logged frequency")
SPEED_OFF_PEAK_HZ = Limit(1.5, "Hz at the highest", "ours: past an overshoot of the control")

# -- data gap
GAP_S = Limit(86400, "s at the week's end", "ours: a day; a daily upload may be that late")
GAP_TOTAL_S = Limit(
    43200, "s a week", "ours: half a day hides a night or a day's work; outages are shorter"
)
CHANGES_ONLY_GAPS = Limit(
    50, "silences a week", "ours: seven a day; a logger that fails is rarely back so often"
)
CHANGES_ONLY_GAP_S = Limit(
    3600, "s on average", "common practice: loggers of changes give a sign of life within an hour"
)
GAP_LONG_S = Limit(259200, "s", "ours: three days; a fault may have come and grown unseen")
NIGHT_OBSERVED_SHARE = Limit(
    0.8, "share of the quiet window", "ours: a fifth of the window may hide one short draw"
)
STARTS_RISE_RATIO = Limit(3, "times the usual starts a day", "ours: far beyond a day's own use")
STARTS_RISE_MIN = Limit(50, "starts a day", "ours: below it a multiple means little")

# -- short cycling
STARTS_PER_DAY = Limit(
    300,
    "starts a day",
    "well-tank standard text and submersible motor starts tables (to 5.5 hp, three phase)",
)
LARGE_MOTOR_HP = Limit(5.5, "hp", "submersible motor starts tables: next group is 7.5 to 30 hp")
STARTS_PER_HOUR = Limit(
    30,
    "starts in the busiest hour",
    "ours: twice what NEMA MG 10 Table 2-3 gives a 2-pole 1 hp motor at full voltage; a home's own"
    " draws stay below",
)
STARTS_PER_HOUR_KEPT_UP = Limit(
    12,
    "starts an hour, week's mean of a local hour",
    "ours: near NEMA MG 10 Table 2-3 for 1.5 hp 2-pole; a home's mean stays well below",
)
KEPT_UP_HOURS = Limit(4, "local hours", "ours: longer than a morning or evening peak")
KEPT_UP_STARTS_PER_DAY = Limit(120, "starts a day", "ours: twice a busy home's")
MIN_RUN_S = Limit(60, "s a start", "common practice")
CYCLING_DAYS = Limit(2, "days of a week", "ours: one day may be a test or a visit")
STARTS_CHANGE = Limit(2, "times the pump's own past", "ours: homes vary less from week to week")
STARTS_CHANGE_SHARE = Limit(
    2 / 3, "of the day's limit", "ours: a rise that stays far below the limit is a change of use"
)
STARTS_CHANGE_TIMES_WITH_TANK = Limit(
    1.5, "times the pump's own past", "ours: the tank itself says that something changed"
)
STARTS_CHANGE_WITH_TANK = Limit(
    60, "starts a day", "ours: enough of a rise where stops or falls say that the tank changed"
)
RUN_AS_EVER = Limit(1.6, "times the past median run", "ours: what use alone varies by")
STARTS_CHANGE_DAYS = Limit(3, "days of a week", "ours: guests and parties are over sooner")
STARTS_FAST_SHARE = Limit(3, "times the day's limit", "ours: damage within days, not months")
SAME_INTERVAL_RATIO = Limit(
    1.5, "times", "ours: a log further apart in speed counts starts and short stops otherwise"
)
BASELINE_DAYS = Limit(5, "past days in use", "ours: fewer do not show a pump's habit")
DAY_OBSERVED_SHARE = Limit(0.5, "share of a day", "ours: a rate from less leans on its hours")
COUNT_FLIP_SHARE = Limit(
    0.25, "share of neighbouring samples", "ours: beyond it every second start may be missed"
)
COUNT_INTERVAL_S = Limit(
    10, "s between samples", "ours: a run and a stop of 20 s each need two samples"
)
CLEAR_INTERVAL_S = Limit(
    15, "s between samples", "ours: a slower log can hide 15 s runs, so it cannot clear a pump"
)
ALIAS_SAMPLES = Limit(
    60, "samples a cycle", "ours: a cycle within a sixtieth of the log's interval wanders off it"
)
ALIAS_STARTS_PER_DAY = Limit(10, "starts a day", "ours: a few alike are a timer's")
SHORTEST_RUN_S = Limit(
    10, "s", "ours: ramp up, look for flow, ramp down; a drive does not run shorter"
)
SLEEP_DRAW_LPM = Limit(
    6, "L/min", "ours: about 1.5 gpm; a drive that finds no flow is not feeding more than this"
)
SLEEP_DRAW_LIKELY_LPM = Limit(
    2, "L/min", "ours: about 0.5 gpm; most drives find no flow near this draw"
)
NEXT_RUN_FLOW_HZ = Limit(
    1,
    "Hz over no-flow speed",
    "ours: a pump's curve is flat at no flow, so by the affinity laws 1 Hz more at 45 of 60 Hz is"
    " already a sixth of its most flow",
)
NEXT_RUN_SAMPLES = Limit(
    3,
    "samples of the run after a stop",
    "ours: of fewer, the first may lie in the ramp up and the last in the ramp down",
)
IMPOSSIBLE_STOP_S = Limit(15, "s", "ours: shorter than any tank in the register should last")
IMPOSSIBLE_STARTS_PER_DAY = Limit(
    100, "starts a day", "ours: enough that the median stop is a cycle and not a pause"
)
FALL_CHANGE = Limit(3, "times the past 90th percentile", "ours: a charge gone from 42 to 5 psi")
CAUSE_SHARE = Limit(0.6, "share", "ours: below it the runner-up is too close to name one cause")

# -- leak
LEAK_MIN_LPM = Limit(
    0.02,
    "L/min",
    "ours: just under a dripping tap of 10 gal a day; below it seepage and gas cooling look alike",
)
LEAK_MIN_FALL_KPA_PER_MIN = Limit(
    0.2,
    "kPa/min, where the tank is not registered",
    "ours: ten times what the gas loses by cooling 10 C in a night",
)
LEAK_NIGHTS = Limit(3, "nights of a week", "ours: a leak does not choose its nights")
NIGHTS_NEEDED = Limit(4, "nights observed", "ours: over half of them, else a pattern is a guess")
FLAT_S = Limit(
    600,
    "s flat",
    "ours: two means of 5 min; how slow a leak they rule out depends on the resolution",
)
LEAK_CONFIDENCE = Limit(0.5, "0-1", "ours: less is more likely use than a leak")
VALVE_FLAT_SHARE = Limit(
    0.75, "share of quiet stopped time", "ours: a tight house holds flat for nearly all of it"
)
VALVE_EARLY_OVER_LATE = Limit(
    0.5,
    "a third's slope over a later third's",
    "ours: through a hole or a valve it falls ever slower, by Boyle's law and with the pressure,"
    " so over 1; half leaves room for scatter, and draws that leave pressure flat lie near 0",
)
VALVE_ODDS = Limit(
    1.9, "sum of clues, natural log", "ours: nights that hold in part need two that agree"
)
RESTART_SAMPLES = Limit(
    5, "samples a restart interval", "ours: a regular interval on fewer may be an alias"
)
REGULAR_CV = Limit(0.25, "robust coefficient of variation", "ours: use is never so regular")
IRREGULAR_CV = Limit(0.6, "robust coefficient of variation", "ours: use is at least so irregular")
STEADY_NIGHTS_SPREAD = Limit(
    0.35, "robust spread over median, night to night", "ours: a leak keeps its size for a week"
)
QUICK_AFTER_STOP = Limit(
    1.4,
    "first third's slope over the last third's",
    "ours: a steady hole and Boyle's law give up to 1.2 between 60 and 55 psi",
)
SUCTION_RISE_KPA = Limit(3, "kPa", "ours: half a psi, over the scatter of the sensor")
FLOOR_SPREAD_HZ = Limit(1.5, "Hz, night to night", "ours: a leak's floor stays, use wanders")
FLOOR_OVER_MIN_HZ = Limit(
    0.5, "Hz", "ours: a pump this near its minimum speed may not be able to stop"
)
FLOOR_OVER_F0_HZ = Limit(6, "Hz", "ours: a floor further over no-flow speed is more like use")
PRECHARGE_DOUBT_KPA = Limit(
    35, "kPa", "ours: 5 psi between the register and the tank is common (gauge, age, warmth)"
)
PRESSURE_SCALE_OFF = Limit(
    1.5, "times", "ours: a setting may have been changed, but this far off it is another unit"
)
FAST_FALL_S = Limit(60, "s", "gas law: faster falls are nearer adiabatic, up to 1.4 times less")
BIG_LEAK_LPM = Limit(1.9, "L/min", "ours: half a gallon a minute floods a cellar in a day")

# -- published leaks, for scale
DRIPPING_TAP_L_PER_DAY = Limit(
    31.1, "L a day", "EPA WaterSense, Fix a Leak (2012): one drip a second, 3,000 gal a year"
)
NOTABLE_LEAK_L_PER_DAY = Limit(
    340.7, "L a day", "EPA WaterSense, Fix a Leak (2012): 90 gal a day in one home of ten"
)
RUNNING_TOILET_L_PER_DAY = Limit(
    757.1, "L a day", "EPA WaterSense, Fix a Leak (2012): 200 gal a day"
)

# -- overload margin
MARGIN_HEALTHY_PCT = Limit(
    10, "% of service_factor_amps, at the 95th percentile", "ours: a tenth covers meter and season"
)
MARGIN_THIN_PCT = Limit(5, "% of service_factor_amps", "ours: half the healthy margin is gone")
MARGIN_DAYS = Limit(2, "days", "ours: one day of heavy use is no trend")
OVER_LIMIT_DAY_S = Limit(60, "s a day", "ours: leaves out starts and single samples")
OVER_LIMIT_RUN_SHARE = Limit(
    0.005, "share of running time", "ours: less is the scatter of single readings"
)
DRIFT_PCT_PER_WEEK = Limit(
    0.5, "% a week", "common practice: half a percent a week is worth a line"
)
DRIFT_SURE_PCT_PER_WEEK = Limit(
    0.2, "% a week, lower 95 % limit", "ours: season and water level move current by about as much"
)
DRIFT_TOTAL_PCT = Limit(2.5, "% over the weeks seen", "ours: past a current sensor's own wander")
DRIFT_VISIT_PCT = Limit(5, "% over the weeks seen", "common practice: 5 % in 8 weeks is a visit")
DRIFT_FAST_PCT_PER_WEEK = Limit(
    1.0, "% a week", "common practice: twice what is worth a line, whatever the level was before"
)
LOAD_STEP_PCT = Limit(8, "% above the past weeks' median", "ours: no like speed varies that much")
LOAD_STEP_HZ = Limit(1.0, "Hz at the 95th percentile", "ours: like speed, half an op_map bin")
CLIP_DAY_S = Limit(60, "s a day", "ours: leaves out a start against an empty main")
CLIP_WEEK_S = Limit(300, "s a week", "ours: five minutes short of pressure is noticed")
CEILING_NEAR_SHARE = Limit(
    0.05, "share of a registered limit", "ours: drives hold their setting within a few percent"
)
THERMAL_NEAR_TRIP_PCT = Limit(
    95, "% of the trip state", "ours: IEC 60255-149 model; steady running at the setting makes 91"
)
TOP_SPEED_SHARE = Limit(0.97, "share of max_hz", "ours: within 2 Hz of top speed")
TOP_SPEED_HZ = Limit(60, "Hz", "common practice: rated speed, unless the motor's label says more")

# -- settings
OVERLOAD_OVER_SFA = Limit(
    1.02, "times service_factor_amps", "common practice: at SFA or the next step below"
)
OVERLOAD_FAR_OVER_SFA = Limit(
    1.15, "times service_factor_amps", "NEC 430.32(A)(1), the lower of its shares, on top of SFA"
)
OVERLOAD_OVER_RATED = Limit(1.25, "times rated_amps", "NEC 430.32(A)(1), the higher of its shares")
OVERLOAD_OVER_USE = Limit(
    1.05, "times the 95th percentile of current", "ours: less trips on a warm day"
)
RATED_OVER_WELL_PCT = Limit(
    2, "% over rated_amps", "ours: past a current meter's error; submersible motors on a drive"
)
RATED_OVER_PCT = Limit(5, "% over rated_amps", "ours: surface motors carry a service factor")
RATED_OVER_RUN_SHARE = Limit(0.05, "share of running time", "ours: less does not heat a motor")
MIN_HZ_SUBMERSIBLE = Limit(
    30, "Hz", "submersible motor literature: bearing film needs 30 Hz within 1 s"
)
MIN_HZ_LOW_SUCTION = Limit(30, "Hz", "common practice: suction over 20 psi below the set pressure")
MIN_HZ_NEAR_SUCTION = Limit(10, "Hz", "common practice: suction within 20 psi of the set pressure")
SUCTION_NEAR_KPA = Limit(137.895, "kPa below the set pressure", "common practice: 20 psi")
MIN_HZ_SLACK_HZ = Limit(0.5, "Hz", "ours: settings are whole or half hertz")
MIN_HZ_CLEAR_HZ = Limit(
    2, "Hz below min_hz", "ours: no-flow speed from a published curve is not better than that"
)
OVER_PRESSURE_PCT = Limit(3, "% of the pressure setting", "ours: past the hold of a sound control")
RAMP_TANK_L = Limit(3.785, "L over 5 psi", "common practice: one gallon over 5 psi")
RAMP_BAND_KPA = Limit(34.474, "kPa", "common practice: 5 psi from stop to restart")
RAMP_RUN_SHARE = Limit(0.20, "share of time", "ours: short runs for so little time are small use")
RAMP_RUN_S = Limit(60, "s", "ours: runs of a tap, not of a zone")
RAMP_FLOW_LPM = Limit(
    11.36, "L/min", "common practice: slow ramp where average demand is under 3 gpm"
)
RAMP_OVERSHOOT_PCT = Limit(4, "% of the pressure setting", "ours: a sound ramp stays within 2 %")
RAMP_STARTS = Limit(100, "starts a day", "ours: a home's use makes 20 to 60")
RAMP_NEW_RATIO = Limit(
    2, "times the past weeks' starts", "ours: a setting acts from its first day"
)
RAMP_STOP_S = Limit(15, "s", "ours: a tank with its charge lasts longer on a trickle")
RAMP_DIPS = Limit(3, "a day", "ours: fewer are single heavy draws")
PRECHARGE_LOW_SHARE = Limit(
    0.50, "share of the pressure setting", "common practice: 0.65 to 0.75 on a drive"
)
PRECHARGE_HIGH_SHARE = Limit(
    0.85, "share of the pressure setting", "common practice: 0.65 to 0.75 on a drive"
)
PRECHARGE_USUAL_SHARE = Limit(0.75, "share of the pressure setting", "common practice, upper end")
TRICKLE_L = Limit(0.315, "L", "ours: 10 s of a 0.5 gpm trickle")
LEAD_HIGH_V = Limit(379, "V", "submersible motor literature: filter over 379 V and 50 ft")
LEAD_HIGH_V_M = Limit(15.24, "m", "submersible motor literature; common practice: 50 ft")
LEAD_LOW_V_M = Limit(91.44, "m", "ours: 300 ft; doubled pulses of a 240 V drive stay below 1000 V")
BEYOND_PUMP_SHARE = Limit(0.95, "share of max_hz", "ours: no reserve is left")
BEYOND_PUMP_CURVE_SHARE = Limit(0.97, "share of max_hz", "ours: as in the log, 2 % for a curve")
BEYOND_PUMP_SPREAD_HZ = Limit(1.5, "Hz", "ours: stops out of high flow scatter more")
BEYOND_PUMP_STARTS = Limit(10, "starts", "ours: a no-flow speed from fewer stops is chance")
BEYOND_PUMP_RISE_HZ = Limit(2, "Hz since the first weeks", "ours: then it is wear, no setting")
SETTING_FAST_LOG_S = Limit(10, "s", "ours: pressure at a restart is gone after ten seconds")
SETTING_DIP_LOG_S = Limit(5, "s", "ours: a dip of five seconds needs a sample in it")

# -- hunting
HUNTING_PERIOD_MIN_S = Limit(2, "s", "common practice: pressure loops hunt at 2 to 30 s")
HUNTING_PERIOD_MAX_S = Limit(30, "s", "common practice: pressure loops hunt at 2 to 30 s")
HUNTING_PERIOD_SAMPLES = Limit(
    4, "samples a period", "ours: twice what sampling theory asks, for noise and uneven steps"
)
HUNTING_SWINGS_MIN = Limit(5, "swings", "common practice: fewer are a control that settles")
HUNTING_SWING_SHARE = Limit(
    0.025,
    "share of the pressure setting to either side",
    "ours: common practice says 3 %; a sampled or averaged swing reads up to a sixth less",
)
HUNTING_SPEED_HZ = Limit(
    0.3, "Hz to either side", "ours: past a drive's resolution of 0.1 Hz; steadier is no hunt"
)
HUNTING_HALF_SWING_SPREAD = Limit(
    0.35, "standard deviation over mean", "ours: sampling at the limit alone makes 0.2"
)
HUNTING_SINE_SHARE = Limit(
    0.5, "share of variance in one sine", "ours: a control swings smoothly, a draw comes in steps"
)
HUNTING_OPPOSITE_DEG = Limit(
    135, "deg of lag", "ours: beyond, pressure falls while speed rises: a draw that comes and goes"
)
HUNTING_FLOW_RATIO = Limit(
    3,
    "times the swing of flow that a fixed opening gives",
    "ours: through a fixed opening flow goes with the root of pressure (Torricelli)",
)
HUNTING_WEEK_S = Limit(120, "s a week", "ours: two minutes of swings are no chance")
HUNTING_SPELLS = Limit(3, "spells a week", "ours: one or two are a valve that fluttered")
HUNTING_DAYS = Limit(2, "days of a week", "ours: one day may be an appliance or a visit")
HUNTING_RUN_SHARE = Limit(
    0.03, "share of settled running", "ours: less is an appliance's pulse, not the control"
)
HUNTING_LONG_RUN_S = Limit(
    600, "s in runs of 75 s or more", "ours: without such runs five slow swings cannot show"
)
HUNTING_FAST_S = Limit(60, "s a week", "ours: a minute of swings too fast for the log is no noise")
KNEE_SHARE_TOLD = Limit(0.5, "share of falls", "ours: a knee in most falls is the tank's own")
HUNTING_MOST_SHARE = Limit(
    0.3, "share of settled running", "ours: nearly a third is the control's habit"
)

# -- overheating
DRIVE_TEMP_MIN_C = Limit(-40, "C", "ours: colder than any place where pumps are run")
DRIVE_TEMP_MAX_C = Limit(150, "C", "ours: a controller has shut down long before")
DRIVE_COOL_S = Limit(
    1800, "s into a stop", "ours: three time constants of a small heat sink, so it is near the air"
)
DRIVE_HOT_C = Limit(
    80, "C", "ours: 5 C under the 85 C to which industrial electronic parts are commonly rated"
)
HOT_DAY_S = Limit(600, "s a day", "ours: a heat sink takes minutes; less is a reading or two")
HOT_DAYS = Limit(2, "days of a week", "ours: one day may be a heat wave's worst or a closed door")
HEAT_EXCESS_C = Limit(
    10, "C over the pump's own past at like load and surroundings", "common practice"
)
HEAT_ROOM_MAX_C = Limit(40, "C", "common practice: controllers are made for air up to 40 C")
HEAT_ROOM_HOT_C = Limit(
    65, "C", "ours: air of 40 C, the most controllers are made for, and 25 C of their own rise"
)
HEAT_PAST_DAYS = Limit(7, "past days with load", "ours: a week shows the pump's habit once")
HEAT_LOAD_REACH = Limit(
    1.25, "times the highest load of the past", "ours: a line is not followed far beyond its data"
)
FOLD_BACK_FROM_C = Limit(60, "C", "ours: no drive cuts its output for heat below that")
FOLD_BACK_WITHIN_C = Limit(3, "C of the week's highest", "ours: fold-back holds a temperature")
FOLD_BACK_BELOW_HZ = Limit(
    1.5, "Hz below the week's highest settled speed", "ours: it has run faster when it was cooler"
)
FOLD_BACK_STEADY_HZ = Limit(0.5, "Hz a sample", "ours: a capped speed stands still")
FOLD_BACK_S = Limit(600, "s a week", "ours: ten minutes short of pressure are noticed")
FAHRENHEIT_COOL_C = Limit(
    50, "C at rest in the coolest hours", "ours: no cabinet is that warm cold; 50 F is 10 C"
)

# -- controller trip
TRIP_BEFORE_S = Limit(30, "s before a trip", "ours: what a protection averages over")
TRIP_CODE_LEAD_S = Limit(
    30, "s from code to stop", "ours: a drive ramps down within it; later it is another matter"
)
TRIP_LOW_SHARE = Limit(
    0.85, "share of the pressure setting", "ours: restarts are set at 5 to 10 % below the setting"
)
RETRY_GAP_S = Limit(
    4500, "s from trip to trip", "common practice: retries wait 5 to 60 min; 15 min to run"
)
LATCHED_S = Limit(
    5400, "s stopped", "ours: half as long again as the longest usual retry pause of an hour"
)
LATCHED_SILENT_S = Limit(
    900, "s stopped when the log ends", "ours: out of sight, a quarter of an hour is taken for out"
)
LATCHED_UNSEEN_SUPPLY_S = Limit(
    14400, "s stopped", "ours: without volts in the log most power cuts are over by then"
)
INFERRED_RETRIES_MIN = Limit(
    3, "abrupt stops a week", "ours: a hand that switches off does not do it three times alike"
)
INFERRED_RETRY_CV = Limit(
    0.15, "robust coefficient of variation of the pauses", "ours: a timer repeats, use does not"
)
INFERRED_WITHIN_S = Limit(
    60, "s after the stop", "ours: pressure gone that soon says that water was being drawn"
)
RESTARTS_MIN = Limit(5, "starts a week", "ours: a median of fewer hangs on single readings")
TRIP_SHORT_SHARE = Limit(
    0.1, "share of the setting under the restart", "ours: any controller would have started"
)
TRIP_SUPPLY_LOST_PCT = Limit(
    50, "% of supply_volts", "ours: a drive without half of its volts is off, not tripped"
)
TRIP_CURRENT_PCT = Limit(
    95, "% of the overload setting", "ours: a meter's error below the setting itself"
)
TRIP_PRESSURE_PCT = Limit(
    50, "% of the pressure setting", "common practice: pressure collapses under half when dry"
)
TRIP_DRY_CURRENT_PCT = Limit(
    80, "% of the overload setting", "ours: a pump that moves little water takes less than that"
)
TRIP_HEAT_C = Limit(75, "C", "ours: 5 C under what counts as hot here, for the sensor")
TRIP_AT_START_S = Limit(60, "s of running", "ours: ramp and inrush are over by then")
TRIPS_REPEATED = Limit(
    3, "trips a week, retries counted", "ours: resetting again and again is how motors die"
)
TRIPS_SAME_HOURS = Limit(4, "hours of the day", "ours: an afternoon or an evening peak is no more")
TRIP_CLEAR_INTERVAL_S = Limit(
    60, "s between samples", "ours: a slower log can miss a code that clears by itself in minutes"
)

# -- pre-read of a site
QUIET_BY_DAY_FROM_H = Limit(
    9, "h local time", "common practice: use is least from 1 to 5 h; the morning's is over by 9"
)
QUIET_BY_DAY_TO_H = Limit(17, "h local time", "common practice: the evening's use begins by then")
QUIET_CLEAR_RATIO = Limit(
    0.3, "of the mean run share", "ours: use spread more evenly than that has no quiet hours"
)
HUNTING_INTERVAL_S = Limit(
    2, "s between samples", "ours: four samples in a swing of 8 s; slower logs show no hunting"
)
SEEN_SINCE_SHARE = Limit(
    0.5, "share of a week", "ours: of a week observed less, 'not seen again' says little"
)
CLEAR_OBSERVED_SHARE = Limit(
    0.3, "share of the week", "ours: two days in seven show a fault; they do not show its absence"
)

# -- pressure gone at speed: measuring, and telling a dry pump from a burst or a sensor
GONE_SHARE = Limit(
    0.5,
    "share of the pressure setting",
    "common practice: 30 to 50 % of set is left of a dry pump",
)
GONE_SURE_SHARE = Limit(
    0.3,
    "share of the pressure setting",
    "common practice: 30 to 50 % of set is left of a dry pump",
)
GONE_MOVES_SHARE = Limit(
    0.02, "share of the pressure setting", "ours: twice what a sensor of 1 % flickers"
)
GONE_MIN_S = Limit(
    10, "s a spell", "common practice: past 10 s dry a seal or a wet bearing suffers"
)
GONE_BRIDGE_S = Limit(
    10, "s", "ours: air that passes the sensor lets pressure jump up for moments"
)
GONE_SPELLS_MAX = Limit(50, "spells kept of a week", "ours: the longest tell enough of the others")
TOP_OF_WEEK_SHARE = Limit(
    0.95, "share of the week's highest speed", "ours: near top where max_hz is recorded too high"
)
HELD_SHARE = Limit(0.95, "share of the pressure setting", "ours: a control that can holds closer")
DRY_CURRENT_SURE_PCT = Limit(
    70, "% of the current expected", "common practice: dry pumps take 40 to 70 % at like speed"
)
DRY_CURRENT_MOST_PCT = Limit(
    85,
    "% of the current expected",
    "ours: a small motor's current is mostly magnetising and drops less; then the no-flow current"
    " must confirm it",
)
DRY_SPEED_OVER_NO_FLOW = Limit(
    1.2,
    "times the no-flow speed",
    "ours: by the affinity laws torque is 44 % up there; even of a motor whose no-flow current is"
    " nine tenths magnetising, current is up by a tenth",
)
DRY_OVER_NO_FLOW = Limit(
    1.05,
    "times the no-flow current",
    "ours: by the affinity laws a pump full of water takes no less above its no-flow speed; 5 %"
    " for the sensor",
)
OPEN_CIRCUIT_PCT = Limit(
    10,
    "% of the current expected",
    "ours: even an idle motor takes three times as much to magnetise",
)
DRY_CLEAR_LOG_S = Limit(
    10, "s between samples", "ours: a slower log can step over a dry spell, so it clears no pump"
)
SLOW_LOG_S = Limit(
    10, "s between samples", "ours: slower, whole falls and the flutter of air lie between them"
)
DRY_AT_START_S = Limit(
    60, "s after a start", "ours: a pump that has lost its prime never gets going"
)
DRY_RETRY_CV = Limit(
    0.15, "robust coefficient of variation", "ours: a timer repeats, water use does not"
)
DRY_RETRY_PAUSE_S = Limit(
    3600, "s stopped", "common practice: retries wait 5 to 60 min; later it was water use"
)
DRY_RESTLESS = Limit(
    0.05,
    "robust spread over median current",
    "ours: air in the pump; a loaded one keeps within 2 %",
)
GONE_FOR_GOOD_S = Limit(
    3600, "s to the end of the log", "ours: an hour at full speed without pressure is no filling"
)

# -- weak delivery
WEAK_MIN_S = Limit(60, "s a spell", "ours: a control has gone to top speed and settled by then")
WEAK_FILL_S = Limit(
    300, "s after a start", "ours: an empty line or tank fills within five minutes"
)
WEAK_WEEK_S = Limit(600, "s a week", "ours: ten minutes short of pressure are noticed")
WEAK_DAY_S = Limit(120, "s a day", "ours: a day with less is one long draw")
WEAK_DAYS = Limit(2, "days of a week", "ours: one day may be a hydrant or a pool")
WEAK_NEVER_SHARE = Limit(
    0.02, "share of settled running at the setting", "ours: what is left are rounding and stops"
)
WEAK_LOW_VOLTS_SHARE = Limit(
    0.8,
    "share of the time short",
    "ours: volts explain it only if they are low nearly always then",
)
WEAK_VOLTS_RECOVER_PCT = Limit(
    4, "% of nominal volts", "ours: past a meter's scatter and the pump's own drop"
)
WEAK_LOW_AMPS_PCT = Limit(
    92, "% of the current expected", "ours: past the scatter of a fit; less flow takes less power"
)
AMPS_FALL_PCT = Limit(
    -2.5, "% at like speed and pressure over the weeks", "ours: past a current sensor's own wander"
)
F0_RISING_SHARE = Limit(
    0.8, "share of pairs of weeks that rise", "ours: chance gives a half, one odd week is allowed"
)
F0_RISE_HZ = Limit(
    1.5, "Hz since the first weeks", "ours: by the affinity laws 7 % of shutoff head at 45 Hz"
)
F0_MIDDLE_SHARE = Limit(
    0.5, "share of the rise of the slowest tenth", "ours: else the stops only scatter less"
)
F0_RISE_ALONE_HZ = Limit(
    3.5, "Hz since the first weeks", "ours: by the affinity laws 15 % of shutoff head at 45 Hz"
)

# -- sensor faults
STILL_MIN_S = Limit(600, "s", "ours: ten minutes outlast any hold between two draws at one speed")
STILL_SAMPLES_MIN = Limit(10, "samples", "ours: fewer can agree by rounding")
STILL_HZ = Limit(5, "Hz", "common practice: speed that moves that far moves every other reading")
STILL_EDGES = Limit(4, "starts and stops", "ours: two whole runs must move the reading")
STILL_EDGES_AT_SET = Limit(
    20, "starts and stops", "ours: a fast draw can hide one fall from set to restart, not ten"
)
STILL_EDGES_AT_SET_SLOW = Limit(
    200, "starts and stops", "ours: a log slower than 10 s steps over most falls to the restart"
)
STILL_LONG_S = Limit(86400, "s", "ours: volts or temperature do not stand still for a day")
STILL_RESTLESS_SHARE = Limit(
    0.02,
    "moves on past a next step, twice the rarer way, per pair of neighbouring samples",
    "ours: white noise of a third of a step reaches it, with which one neighbour in six differs"
    " even midway between two edges; one that only tips over an edge stays at 0, and a tank that"
    " warms and cools by 14 steps a day below 0.01",
)
START_DUE_DAYS_SHARE = Limit(
    0.8, "share of days seen before", "ours: what starts on four days of five is used daily"
)
STUCK_LOW_SHARE = Limit(
    0.25, "share of the pressure setting", "ours: even a pump that turns backward makes more"
)
STILL_AT_TOP_S = Limit(3600, "s", "ours: an hour at full speed without the last digit moving")
STILL_RUNS = Limit(
    10, "starts and stops", "ours: five whole runs move volts and warm a controller"
)
VOLTS_ZERO_S = Limit(60, "s while running", "ours: past a drive's ride-through of an outage")
STILL_FROZEN_S = Limit(43200, "s", "ours: half a day without the flicker it always had")
ODD_SAMPLES = Limit(2, "samples", "ours: one may be a fault of the line")
ODD_PRESSURE_OVER = Limit(
    3, "times the pressure setting", "ours: no pump of the trade makes that at top speed"
)
ODD_PRESSURE_UNDER_KPA = Limit(
    -20, "kPa", "ours: a vacuum of 3 psi at the outlet is past any sensor's zero error"
)
ODD_AMPS_OVER = Limit(4, "times service_factor_amps", "ours: a drive stops long before that")
ODD_HZ_OVER = Limit(1.5, "times max_hz", "ours: no drive is set that far past its limit")
ODD_SUCTION_UNDER_KPA = Limit(-99, "kPa", "ours: full vacuum; water boils before it")
ODD_TEMPERATURE_LOW_C = Limit(-45, "C", "ours: colder than any place where pumps are run")
ODD_TEMPERATURE_HIGH_C = Limit(140, "C", "ours: a controller has shut down long before")
ODD_RUN_S = Limit(600, "s", "ours: ten minutes of running are no glitch")
DROPOUT_SHARE = Limit(0.5, "share of the pressure setting", "ours: water does not jump that far")
DROPOUT_BACK_SHARE = Limit(
    0.05, "share of the pressure setting", "ours: back where it was, as if nothing had happened"
)
DROPOUTS = Limit(3, "a week", "ours: one may be a fault of the line")
ZERO_AMPS_SHARE = Limit(0.9, "share of running time", "ours: a motor that turns takes current")
REST_AMPS_SHARE = Limit(
    0.1, "share of running current", "ours: a stopped motor takes none; 10 % for the meter"
)
REST_AMPS_MIN_A = Limit(0.5, "A", "ours: past a clamp's own zero and a drive's supply")
REST_BELOW_SUCTION_KPA = Limit(
    20, "kPa", "ours: two sensors' errors; water flows forward until both are alike"
)
REST_SHARE = Limit(
    0.5, "share of time at rest", "ours: more often than not, so it is no transient"
)
OFFSET_STEP_HZ = Limit(
    2, "Hz", "ours: by the affinity laws 9 % of the set pressure at 45 Hz no-flow speed"
)

"""The table of checks, parts, alternatives and hazards for each kind and cause.

Checks run from the cheapest and safest to the dearest, and stop where the fault is found. They
are common practice of the pump trade, not taken from any one source, and stand below local code,
the equipment's own manual and what the law leaves to licensed people. Nothing here raises an
overload setting, removes a limit or bypasses protection.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from analysis.findings import Kind


@dataclass(frozen=True, kw_only=True)
class Advice:
    """What a technician does about one cause.

    Attributes
    ----------
    checks : tuple of str
        At least three, in the order to do them.
    parts : tuple of str
        What to load for it beside what is always brought.
    alternatives : tuple of str
        What else gives the same picture in a log.
    cautions : tuple of str
        Keys of the table of cautions in ``analysis.advice``.
    """

    checks: tuple[str, ...]
    parts: tuple[str, ...]
    alternatives: tuple[str, ...]
    cautions: tuple[str, ...]


LIVE = ("shock", "charge", "ground")
_WET = ("pressure", "water", "shut_off")

_TANK = Advice(
    checks=(
        "Touch the tank's gas valve: water out of it means the bladder or diaphragm is gone",
        "Power off and locked out, drain to zero, read the pre-charge and compare with the label",
        "Tap or rock the tank: heavy and dull to the top means waterlogged",
        "Set the pre-charge to the tank's and controller's instructions, then watch starts for"
        " ten minutes",
        "Compare the tank's drawdown with what this site draws",
    ),
    parts=("valve core and cap", "pressure tank of the same connection", "union", "gauge"),
    alternatives=(
        "A second tank or a valve to the tank shut off",
        "Pre-charge set above the restart pressure: the tank empties before the pump starts",
    ),
    cautions=("pressure", "shock", "charge", "water", "shut_off"),
)

_DOWNSTREAM = Advice(
    checks=(
        "Ask by phone first: toilets, softener, reverse-osmosis unit, irrigation, waterers, frost"
        " drip",
        "Close the house valve for 10 minutes and watch the gauge: holds means the leak is"
        " downstream",
        "Dye in the toilet tanks; listen at the fill valves",
        "Close zone by zone; read the water meter in between; look for wet ground",
        "If pressure still falls with the house valve shut, test the check valve",
    ),
    parts=("flapper and fill valve", "couplings and repair clamp", "dye tablets", "listening rod"),
    alternatives=(
        "Check valve that lets water back: close the house valve and watch the gauge 10 min; if it"
        " still falls, it is upstream",
        "Steady use such as a waterer, filter, frost drip or ice maker: ask before driving",
        "A tank that lost charge makes a small leak look like many restarts",
    ),
    cautions=("pressure", "water", "shut_off"),
)

_CHECK_VALVE = Advice(
    checks=(
        "House valve shut, pump off: pressure that still falls is lost on the pump's side",
        "Listen at the well head or suction line while it falls",
        "Close a second valve at the tank, where there is one, to part line and pump",
        "Note whether every stop leaks or only some: a valve that seats now and then looks healthy"
        " for hours",
        "Pull or open only after both tests agree",
    ),
    parts=("check valve of the line's size", "fittings and sealant", "hoist, for a well"),
    alternatives=(
        "Leak behind the house valve: close the house valve and watch the gauge 10 min; if it"
        " holds, it is downstream",
        "A hole in the drop pipe: also costs flow while running",
    ),
    cautions=("pressure", "shock", "charge", "water", "shut_off"),
)

_LOW_DEMAND = Advice(
    checks=(
        "Ask and note what runs in those hours: drip zone, humidifier, filter unit, waterer",
        "Look at the ramp and the minimum run time against the controller's instructions",
        "Read the tank's pre-charge, drained, and its size",
        "Put the trickle on its own small tank, or fit a larger tank",
    ),
    parts=("pressure tank", "fittings for a separate tank"),
    alternatives=(
        "A leak that shows only while the site is awake",
        "Tank has lost its charge: read the pre-charge with the tank drained",
    ),
    cautions=("pressure", "shock", "charge", "water"),
)

_CYCLING_UNKNOWN = Advice(
    checks=(
        "Ask what runs when the pump starts so often",
        "Shut the house valve for 10 minutes: holds flat means no leak",
        "Power off and locked out, drain to zero, read the tank's pre-charge",
        "Compare restart pressure on a test gauge with the setting",
    ),
    parts=("valve core and cap", "pressure tank", "check valve", "flapper and fill valve"),
    alternatives=(
        "Tank has lost its charge: read the pre-charge with the tank drained",
        "A leak or a check valve that does not seat",
        "Small steady use (drip zone, filter) on a small tank or a fast ramp",
    ),
    cautions=("pressure", "shock", "charge", "water", "shut_off"),
)

_WIRING = Advice(
    checks=(
        "From outside: smell, discolouration, a buzzing breaker, infrared on closed covers",
        "Volts at panel AND at controller, idle and at full speed, by a qualified person",
        "Millivolts across breaker and each joint under load to find the one that drops",
        "Power off, discharged and metered: open the worst joint, clean, remake, tighten to its"
        " torque",
        "Confirm conductor size and length against the register",
    ),
    parts=("breaker of the same type", "lugs", "conductor", "anti-oxidant", "torque screwdriver"),
    alternatives=(
        "Wire smaller or longer than recorded, or none recorded",
        "Another load on the same branch circuit",
        "Contacts of the breaker or disconnect, not a joint",
    ),
    cautions=(*LIVE, "heat"),
)

_SOURCE = Advice(
    checks=(
        "Compare with neighbours and other pumps of the region in the same hours",
        "Idle volts at the meter or main, and note the hour",
        "Ask what else starts in those hours: heat pump, irrigation, welder, generator",
        "Log volts at the main for 7 days and open a ticket with the utility, this plot attached",
    ),
    parts=("voltage recorder",),
    alternatives=(
        "A loose service or panel joint: lowers idle volts whenever anything in the house runs",
        "The logged volts read low: compare with a meter",
        "A generator that ran in those hours",
    ),
    cautions=LIVE,
)

_RISING = Advice(
    checks=(
        "Amps on each motor leg at the speed the log shows, against the plot",
        "Listen and feel: bearing noise, sand in the water, a hot motor",
        "Amps against a briefly closed valve, compared with earlier visits",
        "Power off, discharged, leads lifted: insulation and winding resistance, leg to leg",
        "Pull the pump last",
    ),
    parts=("insulation tester", "pump end", "motor", "sand screen"),
    alternatives=(
        "Water level or temperature moved: compare at like season",
        "The current sensor of the controller drifted",
    ),
    cautions=(*LIVE, "motor_leads", "heat", "pressure"),
)

_HIGH = Advice(
    checks=(
        "Read the nameplate and compare with the register: a wrong service-factor figure looks the"
        " same",
        "Amps on each motor leg at top speed",
        "Head and flow against the pump's curve: a pump on too little head runs out to the right",
        "Top speed as set against the nameplate",
        "Rotation, on a three-phase motor",
    ),
    parts=("insulation tester", "throttling or pressure-reducing valve"),
    alternatives=(
        "Service-factor amps recorded lower than the nameplate's",
        "A burst or an open hydrant: more flow than the pump was chosen for",
    ),
    cautions=(*LIVE, "motor_leads", "heat"),
)

_LOAD_UNKNOWN = Advice(
    checks=(
        "Read the nameplate and compare with the register",
        "Amps on each motor leg at the speed the log shows",
        "Volts at the controller, idle and at full speed",
        "Listen and feel: bearing noise, sand in the water, a hot motor",
    ),
    parts=("insulation tester",),
    alternatives=("A load that has been high from the start", "A load that rises week by week"),
    cautions=(*LIVE, "motor_leads", "heat"),
)

_DRY = Advice(
    checks=(
        "Have it stopped first: every minute dry costs seal and bearings; ask whether there is"
        " water at all",
        "Water level (sounder), supply tank or street pressure; suction valve open",
        "Foot valve, suction line and its joints for air; suction screen and filter",
        "Prime: fill by the pump's instructions, power off, and watch one start",
        "Well: note how fast the level comes back, and compare the pump's flow with the yield",
        "Protection against dry running as set, against the pump's instructions",
    ),
    parts=("suction screen", "foot valve", "level probe", "shaft seal"),
    alternatives=(
        "A broken coupling or shaft: the motor turns, the pump does not",
        "A pressure sensor that failed low: compare with a gauge",
        "A burst: then the motor takes full current",
    ),
    cautions=(*LIVE, "heat", "pressure", "water", "shut_off"),
)

_ROTATION = Advice(
    checks=(
        "Ask what was done on the day it began: motor leads, controller, supply",
        "Pressure at full speed against a briefly closed valve, and amps on each leg",
        "Power off, discharged and metered: swap any two motor leads (not the input's), and take"
        " the same pressure again",
        "Keep the connection that makes more pressure and label it",
    ),
    parts=("lead labels", "test gauge"),
    alternatives=(
        "A setting this pump cannot make",
        "A hole in the drop pipe, or an idle pump's check valve letting water back",
        "A pump end worn through, a broken shaft or coupling",
    ),
    cautions=(*LIVE, "motor_leads", "pressure"),
)

_WORN = Advice(
    checks=(
        "Ask about new zones, fixtures or a leak: more demand looks the same",
        "Filters, screens and cartridges ahead of and behind the pump",
        "Water level or suction pressure while it runs",
        "Pressure against a briefly closed valve at a known speed, compared with its history",
        "Idle pump's check valve in a set of two; drop pipe; pull the pump last",
    ),
    parts=("filter cartridges", "suction screen", "pump end"),
    alternatives=(
        "A lower water level or less street pressure",
        "A hole in the drop pipe or a check valve that lets water back",
        "A pressure sensor that now reads low: compare with a gauge",
    ),
    cautions=(*LIVE, "heat", "pressure", "water", "shut_off"),
)

_WEAK_UNKNOWN = Advice(
    checks=(
        "Phone: is there water, is anything being filled, is ground wet or a hydrant open",
        "Gauge beside the sensor: is the pressure really gone",
        "Amps on each motor leg, and every breaker or disconnect between controller and motor",
        "Close the house valve for a moment: pressure that comes up is lost downstream",
    ),
    parts=("test gauge", "repair clamp and couplings", "breaker of the same type"),
    alternatives=(
        "A burst or an open hydrant",
        "An open motor circuit",
        "A pressure sensor that failed low",
    ),
    cautions=(*LIVE, "motor_leads", "pressure", "water", "shut_off"),
)

_SENSOR = Advice(
    checks=(
        "Test gauge or meter beside the sensor: compare at rest and running",
        "Vent the sensor to the open air, isolated and drained: it must read zero",
        "Its plug and wiring for moisture, its line for ice, dirt or insects",
        "Scaling and units of the logger's channel against the sensor's label",
        "Note gauge and reading at this visit: the next one can then see a shift",
    ),
    parts=("sensor of the same range", "snubber", "sensor cable"),
    alternatives=(
        "Its wiring or plug rather than the sensor",
        "The logger's input or its scaling",
        "The reading is right and the pump or the supply is not",
    ),
    cautions=("pressure", "shock", "charge", "water", "shut_off"),
)

_GAP = Advice(
    checks=(
        "Phone: is the power on, is there water, was anything switched off",
        "Logger's breaker, modem, antenna and SIM",
        "Logger's clock and whether its store is full",
        "Ask whether files wait elsewhere for upload",
    ),
    parts=("SIM card", "antenna", "logger supply"),
    alternatives=(
        "A power cut, the pump being off as well",
        "A late upload: the data may still come",
        "The site was shut down on purpose",
    ),
    cautions=LIVE,
)


_HUNTING = Advice(
    checks=(
        "Watch one draw: does pressure swing while the tap stands still",
        "Read ramp and gain on the controller; make the ramp one step slower and watch again",
        "Where the sensor sits: near the pump, before any filter or check valve, its line free of"
        " air",
        "Power off and locked out, drain to zero, read the tank's pre-charge",
    ),
    parts=("valve core and cap", "snubber", "pressure sensor"),
    alternatives=(
        "Pre-charge set above the restart pressure",
        "Gain too high",
        "A draw that pulses evenly: ask what runs at those times",
    ),
    cautions=(*LIVE, "pressure", "shut_off"),
)

_HEAT = Advice(
    checks=(
        "From outside: is the fan turning, are vents and filter free, does the sun stand on the"
        " box",
        "Clearance around the controller against its instructions; other heat in the room",
        "Infrared on the closed covers: one hot spot is a lug, an even warmth the cooling",
        "Power off, discharged and metered: clean fins and filter, spin the fan, check lugs",
        "Amps at top speed against the drive's own rating",
    ),
    parts=("fan", "filter mat", "shade hood", "lugs"),
    alternatives=(
        "A hot room or sun rather than the drive's own cooling",
        "More load than the drive was chosen for",
        "A temperature logged in another unit or from another place",
    ),
    cautions=(*LIVE, "heat"),
)

_TRIP = Advice(
    checks=(
        "Phone: is there water now, what does the display show; ask that nobody resets it again"
        " before the cause is known",
        "Look the code up in the controller's own instructions; note trip history and counters",
        "What came before it in the log: current, volts, pressure or heat leads to the part to"
        " look at",
        "Volts at the controller and amps on each motor leg at the speed the log shows, by a"
        " qualified person",
        "Power off, discharged, leads lifted: insulation and winding resistance, splices dry",
    ),
    parts=("insulation tester", "splice kit", "pressure sensor", "fuses of the same type"),
    alternatives=(
        "Overload, supply, a dry pump, heat, or a fault to ground: the code and what came before"
        " tell them apart",
        "Switched off by hand or by a timer",
    ),
    cautions=(*LIVE, "motor_leads", "heat", "pressure"),
)


def _desk(first: str, second: str, third: str, *alternatives: str) -> Advice:
    """Advice of a setting: read and compare, with the motor's and controller's own figures."""
    return Advice(
        checks=(first, second, third),
        parts=("label for settings before and after",),
        alternatives=alternatives or ("The register is wrong and the setting is right",),
        cautions=("shock", "charge", "ground"),
    )


_NAMEPLATE_FIRST = "Read the motor's nameplate and correct the register where it differs"

ADVICE: Mapping[tuple[Kind, str], Advice] = {
    (Kind.SHORT_CYCLING, "tank_charge_lost"): _TANK,
    (Kind.SHORT_CYCLING, "leak"): _DOWNSTREAM,
    (Kind.SHORT_CYCLING, "low_demand"): _LOW_DEMAND,
    (Kind.SHORT_CYCLING, ""): _CYCLING_UNKNOWN,
    (Kind.UNDERVOLTAGE, "supply_wiring"): _WIRING,
    (Kind.UNDERVOLTAGE, "supply_source"): _SOURCE,
    (Kind.UNDERVOLTAGE, ""): Advice(
        checks=(_WIRING.checks[0], _WIRING.checks[1], _SOURCE.checks[0], _WIRING.checks[2]),
        parts=(*_WIRING.parts, *_SOURCE.parts),
        alternatives=("Supply wiring of this pump", "The supply itself, for all its loads"),
        cautions=_WIRING.cautions,
    ),
    (Kind.OVERLOAD_MARGIN, "rising_load"): _RISING,
    (Kind.OVERLOAD_MARGIN, "high_load"): _HIGH,
    (Kind.OVERLOAD_MARGIN, ""): _LOAD_UNKNOWN,
    (Kind.LEAK, "downstream"): _DOWNSTREAM,
    (Kind.LEAK, "check_valve"): _CHECK_VALVE,
    (Kind.LEAK, ""): Advice(
        checks=(_DOWNSTREAM.checks[0], _DOWNSTREAM.checks[1], *_CHECK_VALVE.checks[:2]),
        parts=(*_DOWNSTREAM.parts, *_CHECK_VALVE.parts[:2]),
        alternatives=("A leak downstream", "A check valve that does not seat"),
        cautions=_CHECK_VALVE.cautions,
    ),
    (Kind.DRY_RUNNING, "suction_lost"): _DRY,
    (Kind.DRY_RUNNING, ""): _DRY,
    (Kind.WEAK_DELIVERY, "wrong_rotation"): _ROTATION,
    (Kind.WEAK_DELIVERY, "worn_or_blocked"): _WORN,
    (Kind.WEAK_DELIVERY, "low_voltage"): Advice(
        checks=(_SOURCE.checks[0], _WIRING.checks[1], _SOURCE.checks[2], _WIRING.checks[2]),
        parts=(*_WIRING.parts, *_SOURCE.parts),
        alternatives=(
            "A pump only just large enough, which low volts show first",
            "Supply wiring of this pump",
            "The supply itself, for all its loads",
        ),
        cautions=_WIRING.cautions,
    ),
    (Kind.WEAK_DELIVERY, ""): _WEAK_UNKNOWN,
    (Kind.SENSOR_FAULT, "stuck"): _SENSOR,
    (Kind.SENSOR_FAULT, "out_of_range"): _SENSOR,
    (Kind.SENSOR_FAULT, "offset"): _SENSOR,
    (Kind.SENSOR_FAULT, ""): _SENSOR,
    (Kind.HUNTING, "ramp_too_fast"): _HUNTING,
    (Kind.HUNTING, ""): _HUNTING,
    (Kind.OVERHEATING, ""): _HEAT,
    (Kind.DATA_GAP, ""): _GAP,
    (Kind.CONTROLLER_TRIP, ""): _TRIP,
    (Kind.SETTING, ""): _desk(
        _NAMEPLATE_FIRST,
        "Read the setting on the controller and note it",
        "Compare with the controller's own instructions before changing anything",
    ),
    (Kind.SETTING, "overload_setting_amps"): _desk(
        _NAMEPLATE_FIRST,
        "Read the overload setting on the controller",
        "A setting above the nameplate's service-factor amps comes down to them or the next lower"
        " step; where it trips below them, find what loads the motor: the setting is no remedy",
    ),
    (Kind.SETTING, "min_hz"): _desk(
        "Read minimum speed and suction pressure as they are today",
        "Watch one stop: the speed at which flow ends must lie above the minimum",
        "Correct minimum speed by the controller's and the motor's instructions (submersible"
        " bearings need a least speed)",
    ),
    (Kind.SETTING, "max_hz"): _desk(
        _NAMEPLATE_FIRST,
        "Read maximum speed on the controller",
        "Take amps at top speed and bring the maximum back to what the nameplate allows",
    ),
    (Kind.SETTING, "ramp"): _desk(
        "Ask what is drawn when it happens, and how much",
        "Read ramp and tank pre-charge (drained, power off)",
        "Change the ramp one step and watch ten minutes of starts",
        "Tank too small for this ramp",
    ),
    (Kind.SETTING, "precharge"): Advice(
        checks=(
            "Compare set pressure and restart pressure on a test gauge with the register",
            "Power off and locked out, drain to zero, read the pre-charge",
            "Set it by the tank's and controller's instructions and label the tank",
        ),
        parts=("valve core and cap",),
        alternatives=("Pre-charge as recorded is out of date", "The set pressure was changed"),
        cautions=("pressure", "shock", "charge", "water", "shut_off"),
    ),
    (Kind.SETTING, "tank"): Advice(
        checks=(
            "Read the tank's label: whole volume and pre-charge",
            "Look for a second tank or a closed tank valve",
            "Size a tank for this site's usual draw",
        ),
        parts=("pressure tank", "union"),
        alternatives=("The tank's volume is recorded wrong",),
        cautions=_WET,
    ),
    (Kind.SETTING, "output_filter"): _desk(
        "Measure or pace the length of the motor leads",
        "Look for a filter or reactor behind the controller; correct the register",
        "Ask controller and motor instructions what that length needs at this voltage",
        "A filter is fitted and not recorded",
    ),
    (Kind.SETTING, "supply_wire"): _desk(
        "Read the conductor's size off its jacket; pace its length",
        "Volts at panel and at controller, idle and at full speed, by a qualified person",
        "Plan a larger conductor where the drop is confirmed",
        "Conductor recorded smaller or longer than it is",
    ),
    (Kind.SETTING, "pressure_setting"): _desk(
        "Test gauge beside the sensor, at rest and running",
        "Read set pressure and speed at no flow",
        "Compare the set pressure with what this pump can make at this lift",
        "The sensor reads high",
        "Pump worn or water level down",
    ),
    (Kind.SETTING, "supply_volts"): _desk(
        _NAMEPLATE_FIRST,
        "Volts at the controller's input, idle",
        "Where motor and supply do not belong together, plan the change by the motor's own"
        " instructions",
    ),
    (Kind.SETTING, "rated_amps"): _desk(
        _NAMEPLATE_FIRST,
        "Amps on each motor leg at top speed",
        "Ask the motor's instructions whether the service factor holds on a variable-speed drive",
    ),
    (Kind.SETTING, "service_factor_amps"): _desk(
        "Compare the register with nameplates, labels and the controller's settings",
        "Compare the log's units and scaling with one meter and one gauge reading",
        "Correct the register or the log profile and load again",
        "A sensor that reads wrong",
    ),
}

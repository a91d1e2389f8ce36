"""The table of scenarios: what each invented pump is, and what may be said of it.

To add a fault: write its effect in ``faults``, then a row here. The seed varies the rest.
"""

from dataclasses import dataclass

SINCE_BEFORE: float | None = None  # there since before the first logged week


@dataclass(frozen=True)
class Built:
    """One effect built into a pump, and the truth it makes.

    Attributes
    ----------
    effect : str
        Name in ``faults.EFFECTS``.
    kind, cause, size : str
        What it is; a blank kind for what is no fault.
    days_before_end : float or None
        Local days before the end of the last week on which it begins; ``None``: before the log.
    hour : float
        Local hour of that day. [h]
    jitter_days : int
        The seed moves the beginning by up to so many days either way.
    lasts_days : float or None
        How long it lasts; ``None``: to the end.
    also : str
        What may be reported besides, as in ``truth.csv``.
    """

    effect: str
    kind: str = ""
    cause: str = ""
    size: str = ""
    days_before_end: float | None = SINCE_BEFORE
    hour: float = 0.0
    jitter_days: int = 0
    lasts_days: float | None = None
    also: str = ""


@dataclass(frozen=True)
class Scenario:
    """One invented pump.

    Attributes
    ----------
    name : str
        As in ``truth.csv``.
    profile : str
        Who draws water (``demand.PROFILES``).
    built : tuple of Built
        Faults and oddities.
    extras : tuple of str
        Odd habits (``demand.EXTRAS``).
    tanks_gal : tuple of float
        The seed picks one. [gal]
    models : tuple of str
        The seed picks one; empty: one that suits profile and place.
    intervals : tuple of (weeks before the end, s)
        Log interval from then on; empty: the seed picks.
    place : str
        ``us``, ``eu``, ``dry`` (no clock changes) or ``mill`` (the region with the weak line).
    supply_volts, motor_volts : int
        0: by place.
    site : str
        Pumps of one named site stand together; ``alone`` shares with none; blank: as it falls.
    traits : tuple of str
        How it is logged: ``averaged``, ``doubled``, ``duplex_a``, ``duplex_b``, ``flow``,
        ``suction``, ``input``, ``temp``, ``coarse`` (whole psi).
    also : str
        What may be reported besides, as in ``truth.csv``.
    note : str
        For whoever reads ``truth.csv``.
    """

    name: str
    profile: str = "home"
    built: tuple[Built, ...] = ()
    extras: tuple[str, ...] = ()
    tanks_gal: tuple[float, ...] = (14.0, 20.0, 26.0)
    models: tuple[str, ...] = ()
    intervals: tuple[tuple[float, float], ...] = ()
    place: str = "us"
    supply_volts: int = 0
    motor_volts: int = 0
    site: str = ""
    traits: tuple[str, ...] = ()
    use_factor: float = 1.0
    level_share: float = 0.0
    also: str = ""
    note: str = ""

    @property
    def is_sick(self) -> bool:
        """Some fault was built in, at whatever time."""
        return any(built.kind for built in self.built)


SMALL = (4.5, 5.5)
LARGE = (36.0, 44.0)
NEAR = ("Tarn 1", "Tarn 1.5")
YARD = ("Mere 2", "Mere 3")
WELLS = ("Ghyll 1.5",)
FINE_LATE = ((6.0, 30.0), (8 / 7, 5.0))
TEN = ((6.0, 30.0), (10 / 7, 10.0))
TWENTY = ((6.0, 60.0), (10 / 7, 20.0))
THIRTY = ((6.0, 60.0), (10 / 7, 30.0))
OVER_LOADED = "setting:overload_setting_amps;setting:rated_amps"


def _charge(size: str, days: float, hour: float = 9.0, jitter: int = 2) -> Built:
    return Built("lose_charge", "short_cycling", "tank_charge_lost", size, days, hour, jitter)


SICK: tuple[Scenario, ...] = (
    Scenario(
        "tank charge lost, no leak",
        "busy_home",
        (_charge("strong", 17),),
        tanks_gal=SMALL,
        models=NEAR,
        intervals=FINE_LATE,
    ),
    Scenario(
        "tank charge partly lost",
        "busy_home",
        (_charge("mild", 18),),
        tanks_gal=SMALL,
        models=NEAR,
        intervals=FINE_LATE,
    ),
    Scenario(
        "tank charge lost in the last week",
        "busy_home",
        (_charge("strong", 5, 10, 0),),
        tanks_gal=SMALL,
        models=NEAR,
        intervals=FINE_LATE,
    ),
    Scenario(
        "leak with a sound tank at the interval of a dead one",
        "home",
        (
            Built("cycling_leak", "short_cycling", "leak", "strong", 16, 3, 2),
            Built("low_by_nature", "leak", "downstream", "strong", 16, 3, 2),
        ),
        tanks_gal=SMALL,
        models=NEAR,
        intervals=TEN,
    ),
    Scenario(
        "leak that starts the pump too often",
        "home",
        (
            Built("cycling_leak", "short_cycling", "leak", "mild", 19, 3, 2),
            Built("low_by_nature", "leak", "downstream", "mild", 19, 3, 2),
        ),
        tanks_gal=SMALL,
        models=NEAR,
        intervals=TEN,
    ),
    Scenario(
        "trickle through the day, small tank, fast ramp",
        "home",
        (
            Built("low_by_nature", "short_cycling", "low_demand", "strong", also="setting:tank"),
            Built("fast_ramp", "setting", "ramp", "strong"),
        ),
        ("drip_zones",),
        SMALL,
        NEAR,
        TEN,
    ),
    Scenario(
        "drip lines through the day, small tank",
        "home",
        (
            Built(
                "low_by_nature",
                "short_cycling",
                "low_demand",
                "mild",
                also="setting:tank;setting:ramp",
            ),
        ),
        ("drip_zone",),
        SMALL,
        NEAR,
        TEN,
    ),
    Scenario(
        "wire too thin for its length",
        "farm",
        (
            Built("thin_wire", "undervoltage", "supply_wiring", "mild"),
            Built("thin_wire_rule", "setting", "supply_wire", "strong"),
        ),
        tanks_gal=LARGE,
        models=YARD,
        intervals=TWENTY,
        site="alone",
    ),
    Scenario(
        "heating joint",
        "farm",
        (Built("heating_joint", "undervoltage", "supply_wiring", "strong", 36, 0, 1),),
        tanks_gal=LARGE,
        models=YARD,
        intervals=TWENTY,
        traits=("input",),
    ),
    Scenario(
        "weak line of a region",
        "home",
        (Built("low_evenings", "undervoltage", "supply_source", "strong"),),
        intervals=THIRTY,
        place="mill",
        site="alone",
        models=NEAR,
    ),
    Scenario(
        "weak line of a region, well that may turn too slowly",
        "home",
        (
            Built("low_evenings", "undervoltage", "supply_source", "strong"),
            Built("low_least_speed", "setting", "min_hz", "strong"),
        ),
        intervals=TWENTY,
        place="mill",
        site="alone",
        models=WELLS,
    ),
    Scenario(
        "weak line of a region, near its head",
        "home",
        (Built("low_evenings", "undervoltage", "supply_source", "mild"),),
        intervals=THIRTY,
        place="mill",
        site="alone",
        models=NEAR,
    ),
    Scenario(
        "load rising fast",
        "farm",
        (Built("drag", "overload_margin", "rising_load", "strong", also=OVER_LOADED),),
        tanks_gal=LARGE,
        models=YARD,
        intervals=THIRTY,
    ),
    Scenario(
        "load rising slowly",
        "building",
        (Built("drag", "overload_margin", "rising_load", "mild", also=OVER_LOADED),),
        tanks_gal=LARGE,
        models=YARD,
        intervals=THIRTY,
        place="eu",
        supply_volts=230,
        motor_volts=230,
    ),
    Scenario(
        "load near service-factor amps",
        "farm",
        (Built("overloaded", "overload_margin", "high_load", "mild", also=OVER_LOADED),),
        tanks_gal=LARGE,
        models=YARD,
        intervals=THIRTY,
    ),
    Scenario(
        "load over service-factor amps, overload set above them",
        "farm",
        (
            Built(
                "overloaded", "overload_margin", "high_load", "strong", also="setting:rated_amps"
            ),
            Built("overload_over_set", "setting", "overload_setting_amps", "strong"),
        ),
        tanks_gal=LARGE,
        models=YARD,
        intervals=THIRTY,
    ),
    Scenario(
        "current clipped at the overload setting",
        "farm",
        (
            Built(
                "clipped",
                "overload_margin",
                "high_load",
                "strong",
                also=f"{OVER_LOADED};setting:ramp;setting:pressure_setting",
            ),
        ),
        ("long_drinks",),
        LARGE,
        YARD,
        TWENTY,
    ),
    Scenario(
        "small leak",
        "home",
        (Built("leak", "leak", "downstream", "mild", 20, 2, 3, also="short_cycling"),),
        tanks_gal=(20.0, 26.0),
        models=NEAR,
        intervals=TWENTY,
    ),
    Scenario(
        "large leak, the pump never stops",
        "home",
        (Built("leak", "leak", "downstream", "strong", 17, 14, 3),),
        tanks_gal=(20.0, 26.0),
        models=NEAR,
        intervals=TWENTY,
    ),
    Scenario(
        "check valve weeps",
        "home",
        (Built("check_valve", "leak", "check_valve", "mild", 24, 0, 3, also="short_cycling"),),
        tanks_gal=(20.0, 26.0),
        intervals=TWENTY,
        models=WELLS,
    ),
    Scenario(
        "check valve leaks on two stops of three",
        "home",
        (Built("check_valve", "leak", "check_valve", "strong", 24, 0, 3, also="short_cycling"),),
        tanks_gal=(14.0, 20.0),
        models=NEAR,
        intervals=TEN,
        traits=("suction",),
    ),
    Scenario(
        "leak and night irrigation",
        "home",
        (Built("leak", "leak", "downstream", "mild", 21, 2, 3, also="short_cycling"),),
        ("night_irrigation",),
        (20.0, 26.0),
        NEAR,
        TWENTY,
    ),
    Scenario(
        "leak that ends in a gap",
        "home",
        (
            Built("leak", "leak", "downstream", "mild", 23, 2, 2, also="short_cycling"),
            Built("silence", "data_gap", "", "strong", 3, 0, 0),
        ),
        tanks_gal=(20.0, 26.0),
        models=NEAR,
        intervals=TWENTY,
    ),
    Scenario(
        "log with holes",
        "home",
        (Built("short_silences", "data_gap", "", "mild", 6),),
        intervals=THIRTY,
    ),
    Scenario(
        "overload set a little above service-factor amps",
        "home",
        (Built("overload_over_set", "setting", "overload_setting_amps", "mild"),),
    ),
    Scenario(
        "pre-charge above the restart pressure",
        "home",
        (Built("charge_over_set", "setting", "precharge", "strong", also="short_cycling"),),
        models=NEAR,
        intervals=TWENTY,
    ),
    Scenario(
        "pre-charge far too low",
        "home",
        (Built("charge_under_set", "setting", "precharge", "mild"),),
        tanks_gal=LARGE,
    ),
    Scenario(
        "long motor lead without a filter",
        "building",
        (Built("long_bare_lead", "setting", "output_filter", "strong"),),
        tanks_gal=LARGE,
        place="eu",
        supply_volts=400,
        motor_volts=400,
        intervals=THIRTY,
        models=("Fjord 2.2", "Fjord 4"),
    ),
    Scenario(
        "230 V motor on a 208 V supply",
        "building",
        (
            Built(
                "motor_for_higher_volts", "setting", "supply_volts", "strong", also="undervoltage"
            ),
        ),
        tanks_gal=LARGE,
        supply_volts=208,
        motor_volts=230,
        site="store",
        models=YARD,
        intervals=THIRTY,
    ),
    Scenario(
        "register carries another motor's nameplate",
        "farm",
        (Built("wrong_motor", "setting", "register", "strong", also="setting;overload_margin"),),
        tanks_gal=LARGE,
        models=("Mere 3",),
        intervals=THIRTY,
    ),
    Scenario(
        "allowed and used above nameplate speed",
        "farm",
        (
            Built(
                "over_speed", "setting", "max_hz", "strong", also=f"overload_margin;{OVER_LOADED}"
            ),
        ),
        tanks_gal=LARGE,
        models=YARD,
        intervals=THIRTY,
    ),
    Scenario(
        "leak and a loose joint",
        "farm",
        (
            Built("leak", "leak", "downstream", "mild", 22, 0, 3),
            Built("loose_joint", "undervoltage", "supply_wiring", "mild", 30, 0, 3),
        ),
        tanks_gal=(26.0, 36.0),
        models=YARD,
        intervals=TWENTY,
    ),
)

ODD: tuple[Scenario, ...] = (
    Scenario("night irrigation", extras=("night_irrigation",), models=NEAR, intervals=TWENTY),
    Scenario("softener every fourth night", extras=("softener",), models=NEAR, intervals=TWENTY),
    Scenario(
        "reverse osmosis trickle",
        extras=("reverse_osmosis",),
        tanks_gal=(26.0, 36.0),
        models=NEAR,
        intervals=TWENTY,
    ),
    Scenario(
        "bleed-flow waterer in frost",
        "farm",
        extras=("frost_waterer",),
        tanks_gal=LARGE,
        models=YARD,
        intervals=THIRTY,
    ),
    Scenario("pool fill", extras=("pool_fill",), models=NEAR, intervals=THIRTY),
    Scenario(
        "duplex, leads on even days",
        "building",
        tanks_gal=LARGE,
        site="duplex",
        models=("Mere 3",),
        intervals=THIRTY,
        traits=("duplex_a",),
    ),
    Scenario(
        "duplex, leads on odd days",
        "building",
        tanks_gal=LARGE,
        site="duplex",
        models=("Mere 3",),
        intervals=THIRTY,
        traits=("duplex_b",),
    ),
    Scenario(
        "generator in an outage",
        built=(Built("outage", days_before_end=4, hour=21),),
        models=NEAR,
        intervals=TWENTY,
        site="alone",
        also="undervoltage",
        note="volts wander between 92 and 106 % for a night",
    ),
    Scenario(
        "vacant house",
        built=(Built("vacant", days_before_end=16, jitter_days=3),),
        models=NEAR,
        intervals=THIRTY,
    ),
    Scenario(
        "winterised",
        built=(Built("winterised", days_before_end=18, jitter_days=3),),
        models=NEAR,
        intervals=((6.0, 60.0),),
        site="alone",
    ),
    Scenario(
        "208 V supply steady at 204 V",
        "building",
        tanks_gal=LARGE,
        supply_volts=208,
        motor_volts=208,
        site="store",
        level_share=0.985,
        models=YARD,
        intervals=THIRTY,
    ),
    Scenario(
        "hot tin pump house",
        "farm",
        (Built("hot_house"),),
        tanks_gal=LARGE,
        place="dry",
        models=YARD,
        intervals=THIRTY,
        traits=("temp",),
    ),
    Scenario(
        "busy night of the clock change",
        extras=("softener",),
        models=NEAR,
        intervals=THIRTY,
        traits=("naive",),
    ),
    Scenario(
        "logger at 1 s beside one at 60 s",
        models=NEAR,
        intervals=((1.0, 1.0),),
        site="twin",
        traits=("twin_a",),
        note="the same pump set as its twin",
    ),
    Scenario(
        "logger at 60 s beside one at 1 s",
        models=NEAR,
        intervals=((6.0, 60.0),),
        site="twin",
        traits=("twin_b",),
        note="the same pump set as its twin",
    ),
    Scenario("averaged log", models=NEAR, intervals=((6.0, 60.0),), traits=("averaged",)),
    Scenario("doubled upload", intervals=THIRTY, traits=("doubled",)),
    Scenario(
        "pump replaced",
        "farm",
        (Built("new_pump", days_before_end=19, hour=11, jitter_days=2),),
        tanks_gal=LARGE,
        models=YARD,
        intervals=THIRTY,
    ),
    Scenario(
        "60 s log of a 65 s cycle",
        "none",
        extras=("process_valve",),
        tanks_gal=(8.5,),
        models=NEAR,
        intervals=((6.0, 60.0),),
        also="short_cycling",
        note="starts truly often by day, too fast for its log to count",
    ),
    Scenario(
        "leak fixed in the period",
        "home",
        (Built("leak", "leak", "downstream", "mild", 33, 2, 2, 14),),
        tanks_gal=(20.0, 26.0),
        models=NEAR,
        intervals=TWENTY,
    ),
)

PLAIN: tuple[Scenario, ...] = (
    Scenario("healthy", place="eu", models=("Fjord 1.1",), intervals=THIRTY, traits=("flow",)),
    Scenario(
        "healthy",
        "building",
        place="eu",
        supply_volts=400,
        motor_volts=400,
        tanks_gal=LARGE,
        intervals=THIRTY,
        models=("Fjord 2.2", "Fjord 4"),
    ),
    Scenario(
        "healthy", place="eu", models=("Fjord 1.1",), intervals=((6.0, 60.0),), traits=("tags",)
    ),
    Scenario("healthy", models=WELLS, intervals=THIRTY, traits=("coarse",)),
    Scenario("healthy", "farm", models=("Ghyll 3",), tanks_gal=LARGE, intervals=THIRTY),
    Scenario(
        "healthy",
        "farm",
        models=("Mere 5",),
        tanks_gal=LARGE,
        intervals=THIRTY,
        traits=("flow", "temp"),
    ),
    Scenario("healthy", "building", models=YARD, tanks_gal=LARGE, traits=("input",)),
    Scenario("healthy", place="dry", models=NEAR),
    Scenario("healthy", models=NEAR, traits=("suction",), tanks_gal=(14.0, 20.0)),
    Scenario("healthy", models=NEAR, tanks_gal=(8.5,), intervals=TEN),
    Scenario("healthy", models=WELLS),
    Scenario("healthy", models=NEAR, tanks_gal=LARGE, intervals=((6.0, 60.0),)),
    Scenario("healthy", "farm", models=YARD, tanks_gal=LARGE, intervals=TWENTY, traits=("input",)),
)

SCENARIOS: tuple[Scenario, ...] = SICK + ODD + PLAIN

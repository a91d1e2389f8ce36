"""The table of pumps set or registered wrong."""

from sample_data.scenario import (
    LARGE,
    NEAR,
    OVER_LOADED,
    THIRTY,
    TWENTY,
    YARD,
    Built,
    Scenario,
)

SET_WRONG: tuple[Scenario, ...] = (
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
        (
            Built(
                "wrong_motor",
                "setting",
                "service_factor_amps",
                "strong",
                also="setting;overload_margin",
            ),
        ),
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

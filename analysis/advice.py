"""What to check, what to load and what to beware of, for each finding of a site."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from analysis.advice_table import ADVICE, LIVE, Advice
from analysis.findings import Kind


@dataclass(frozen=True)
class Caution:
    """One hazard of the work and how it is kept away."""

    title: str
    text: str


ALWAYS_BRING = (
    "true-RMS meter and clamp (readings on a drive's output need one that filters its pulses)",
    "test gauge with hose adapter",
    "tyre gauge",
    "small compressor or gas bottle",
    "torch for nameplates",
    "lock and tag",
    "label for settings before and after",
)

STANDING = Caution(
    "A reading of logs, not an inspection",
    "Local code, the equipment's own manual and the authority having jurisdiction come before"
    " any figure here; work that the law leaves to licensed people belongs to them.",
)

CAUTIONS: Mapping[str, Caution] = {
    "shock": Caution(
        "Electric shock",
        "This equipment can kill. Isolate, lock out and test for absence of voltage with a meter"
        " proved before and after. A stopped pump may restart by itself.",
    ),
    "charge": Caution(
        "Stored charge",
        "After isolating wait at least five minutes, longer where the label says so, then"
        " measure. A dark display or a stopped motor proves nothing.",
    ),
    "ground": Caution(
        "Grounding and protection",
        "Never run or test a controller with its ground off. A tripped protective device stays"
        " tripped until the cause is found, also when the water is wanted.",
    ),
    "motor_leads": Caution(
        "Motor leads",
        "Never open or swap them while running. No insulation tester through the controller:"
        " lift the leads first, power off and discharged.",
    ),
    "pressure": Caution(
        "Pressure",
        "Tank and pipes hold energy with the pump off. Close off and drain to zero on a gauge you"
        " trust before loosening a fitting or touching the pre-charge; never fill a tank above"
        " its marked limit.",
    ),
    "heat": Caution(
        "Heat",
        "Motor, controller and a pump that ran against a closed valve can burn; water trapped in"
        " it can flash to steam.",
    ),
    "water": Caution(
        "Water quality",
        "A leak, low pressure or an open well lets contamination in. Treat opened drinking-water"
        " parts as unclean until disinfected and, where the rules ask, sampled.",
    ),
    "shut_off": Caution(
        "Ask before shutting water",
        "Livestock, medical equipment or a fire main may hang on it.",
    ),
}


def advice_for(kind: Kind, cause: str) -> Advice:
    """Advice for a cause; where the cause has none of its own, that of the kind alone."""
    return ADVICE.get((kind, cause)) or ADVICE[(kind, "")]


def cautions_for(advice: Iterable[Advice]) -> tuple[Caution, ...]:
    """Cautions of all the work on a page, each once, in the table's order, the standing one last.

    Every page has at least the electrical ones: whoever stands at a controller may open it.
    """
    keys = {key for one in advice for key in one.cautions} | set(LIVE)
    return (*(caution for key, caution in CAUTIONS.items() if key in keys), STANDING)

"""Which cause a technician's words name.

A cause's own id always counts ("tank_charge_lost"); beside it stand the words of the trade that
name one cause and no other. Words that could be several causes name none: nothing is guessed.
"""

from collections.abc import Mapping

from analysis.findings import CAUSES

WORDS: Mapping[str, tuple[str, ...]] = {
    "tank_charge_lost": ("bladder", "diaphragm", "valve core", "no charge", "lost its charge"),
    "low_demand": ("trickle", "drip zone", "humidifier"),
    "check_valve": ("check valve", "non-return valve", "foot valve"),
    "downstream": ("toilet", "pipe leak", "leaking pipe", "burst pipe"),
    "supply_wiring": ("loose lug", "loose joint", "burnt lug", "burnt terminal", "corroded lug"),
    "supply_source": ("utility", "transformer"),
    "suction_lost": ("dry well", "low well", "suction air", "air in the suction"),
    "wrong_rotation": ("rotation", "running backward"),
    "worn_or_blocked": ("worn impeller", "blocked impeller", "clogged", "strainer"),
    "ramp_too_fast": ("ramp",),
}


def cause_in(text: str) -> str:
    """Return the one cause a text names, or "" for none or several."""
    words = " ".join(text.lower().replace("_", " ").split())
    if not words:
        return ""
    known = {cause for causes in CAUSES.values() for cause in causes}
    by_id = {cause for cause in known if "_" in cause and cause.replace("_", " ") in words}
    by_word = {cause for cause, names in WORDS.items() if any(name in words for name in names)}
    named = by_id | by_word
    return named.pop() if len(named) == 1 else ""

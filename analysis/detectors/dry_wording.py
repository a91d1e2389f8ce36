"""What is said of a pump that ran dry: summary, grounds, what else it could be."""

from collections.abc import Sequence
from enum import Enum
from itertools import pairwise
from statistics import median

import numpy as np

from analysis.case import Case
from analysis.detectors.certainty import Ground
from analysis.detectors.gone_spells import Gone, Spell
from analysis.limits import (
    DRY_AT_START_S,
    DRY_RESTLESS,
    DRY_RETRY_CV,
    DRY_RETRY_PAUSE_S,
    GONE_SURE_SHARE,
    SLOW_LOG_S,
)
from analysis.measure.quantiles import robust_cv
from analysis.wording import (
    amps_text,
    count_text,
    duration_text,
    frequency_text,
    local_date_text,
    local_time_text,
    percent_text,
    pressure_text,
)

_RETRIES_MIN = 3


class Story(Enum):
    """How the spells follow each other, which tells what to look at first."""

    LOST_PRIME = "lost prime"
    DRAWN_DOWN = "drawn down"
    SPELLS = "spells"


def story(case: Case, dry: Sequence[Spell]) -> Story:
    """From a start onward and never again: prime. After minutes of running, and back: yield."""
    after_s = [s.after_start_s for s in dry if s.after_start_s is not None]
    held_later_s = case.week.held_after_gone_s or 0.0
    if after_s and median(after_s) > DRY_AT_START_S.value and (held_later_s > 0 or len(dry) > 1):
        return Story.DRAWN_DOWN
    if held_later_s == 0 and (not after_s or median(after_s) <= DRY_AT_START_S.value):
        return Story.LOST_PRIME
    return Story.SPELLS


def retry_pauses_s(dry: Sequence[Spell]) -> tuple[float, ...]:
    """How long the pump stood after dry spells before it was tried again; () where on no timer.

    From the end of a spell to the next start that was seen, up to the longest usual retry.
    """
    pauses_s = tuple(
        pause_s
        for before, after in pairwise(dry)
        if after.after_start_s is not None
        and 0.0
        < (pause_s := (after.from_at - before.to_at).total_seconds() - after.after_start_s)
        <= DRY_RETRY_PAUSE_S.value
    )
    cv = robust_cv(np.array(pauses_s)) if len(pauses_s) >= _RETRIES_MIN else None
    return pauses_s if cv is not None and cv <= DRY_RETRY_CV.value else ()


def summary(case: Case, dry: Sequence[Spell]) -> str:
    """One sentence with times, seconds, pressure, current and what kind of loss it is."""
    zone, first = case.site.timezone, dry[0]
    when = f"{local_date_text(first.from_at, zone)} {local_time_text(first.from_at, zone)}"
    total_s, often = sum(s.length_s for s in dry), len(dry)
    ran = (
        f"Pump ran dry for {duration_text(total_s)} on {when}"
        if often == 1
        else f"Pump ran dry {often} times since {when}, {duration_text(total_s)} in all"
    )
    setting_kpa = case.pump.pressure_setting_kpa or case.week.held_pressure_kpa or 0.0
    at_kpa = setting_kpa * median(s.share_of_setting for s in dry)
    what = (
        f"pressure {pressure_text(at_kpa, case.site.units)} at"
        f" {frequency_text(median(s.frequency_hz for s in dry))}{_current_words(dry)}"
    )
    return f"{ran}: {what}{_story_words(case, dry)}."


def _current_words(dry: Sequence[Spell]) -> str:
    known = [s for s in dry if s.current_a is not None and s.current_pct is not None]
    if not known:
        return ""
    amps = median(s.current_a for s in known if s.current_a is not None)
    pct = median(s.current_pct for s in known if s.current_pct is not None)
    return f", motor at {amps_text(amps)}, {percent_text(pct)} of what it takes with water"


def _story_words(case: Case, dry: Sequence[Spell]) -> str:
    told, pauses_s = story(case, dry), retry_pauses_s(dry)
    after_s = [s.after_start_s for s in dry if s.after_start_s is not None]
    words = {
        Story.LOST_PRIME: "; it has not held its pressure since, as after a lost prime",
        Story.DRAWN_DOWN: (
            f"; it starts well, fails after about {duration_text(median(after_s or [0.0]))} and"
            f" comes back after a rest: {_source_name(case)}, not the pump"
        ),
        Story.SPELLS: "",
    }[told]
    if not pauses_s:
        return words
    return (
        f"{words}; it was tried again {count_text(len(pauses_s), 'time')},"
        f" {duration_text(median(pauses_s))} after each stop"
    )


def _source_name(case: Case) -> str:
    return "the well's yield" if case.pump.suction in ("well", None) else "the water it draws from"


def grounds(case: Case, dry: Sequence[Spell]) -> tuple[Ground, ...]:
    """Reasons for and against, with what each adds to the confidence."""
    week = case.week
    expected = [s.expected for s in dry if s.expected is not None]
    spread = [s.current_cv for s in dry if s.current_cv is not None]
    deep = median(s.share_of_setting for s in dry) <= GONE_SURE_SHARE.value
    single = all(s.n_samples == 1 for s in dry)
    return (
        Ground(bool(expected), 0.0, f"Compared with {expected[0].text}" if expected else ""),
        Ground(
            any(s.what is Gone.DRY for s in dry),
            0.1,
            "The motor takes no more than at no flow, though it turns faster",
        ),
        Ground(
            all(s.what is Gone.MAYBE_DRY for s in dry),
            0.0,
            "Current is low for this speed, yet above what it is at no flow",
        ),
        Ground(
            deep, 0.1, f"Pressure was under {100 * GONE_SURE_SHARE.value:.0f} % of the setting"
        ),
        Ground(len(dry) > 1, 0.1, f"Seen {count_text(len(dry), 'time')} this week"),
        Ground(
            bool(spread) and week.log_interval_s <= SLOW_LOG_S.value
            and median(spread or [0.0]) > DRY_RESTLESS.value,
            0.05,
            "Current is restless, as with air in the pump",
        ),
        Ground(case.pump.suction in ("well", "lift"), 0.05, "It lifts its water"),
        Ground(
            bool(expected) and expected[0].is_nameplate,
            -0.15,
            "No week of this pump tells its usual current; the nameplate only bounds it",
        ),
        Ground(single, -0.2, "Single samples: the log is too slow to show the spell"),
        Ground(week.is_averaged, -0.1, "The logger averages: speed and current are smeared"),
    )  # fmt: skip


def alternatives(case: Case, dry: Sequence[Spell]) -> tuple[str, ...]:
    """What else gives the same picture."""
    told = ["A broken coupling or shaft: the motor turns, the pump does not"]
    if story(case, dry) is Story.DRAWN_DOWN:
        told.append("A suction screen or filter that clogs at high flow")
    elif case.pump.suction in ("flooded", "tank"):
        told.append("Suction valve shut, supply tank empty or street pressure off")
    else:
        told.append("Foot valve or suction line that lets air in")
    if any(s.what is Gone.MAYBE_DRY for s in dry):
        told.append("A pressure sensor that failed low, with little water drawn")
    return tuple(told)

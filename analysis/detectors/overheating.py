"""Overheating: the drive is hot, hotter than it used to be, or cuts its output for heat.

Reads    drive_temp_c by quarters of an hour with load and rests; fold-back; past days.
Causes   none: fan, filter, sun and load are told apart in the grounds, as far as the log shows.
Misses   the motor's own temperature; heat in a week without load. No limit of the drive is
         registered, so the limit is ours and the pump's own past counts beside it.
"""

from dataclasses import dataclass

from analysis.case import Case, Verdict
from analysis.detectors.certainty import Ground, weigh
from analysis.detectors.heat_evidence import (
    HeatDay,
    HeatLine,
    folds_back,
    heat_line,
    hot_days,
    looks_like_fahrenheit,
    warmer_days,
)
from analysis.detectors.load_evidence import ceiling_is_a_limit
from analysis.detectors.spells import clear_if_seen, days_seen, spell_bounds
from analysis.findings import Judged, Kind, MeasureValue, Needs, NotAssessed
from analysis.limits import (
    DRIVE_HOT_C,
    FOLD_BACK_S,
    HEAT_EXCESS_C,
    HOT_DAY_S,
    Limit,
)
from analysis.records import PumpDay
from analysis.wording import duration_text, temperature_change_text, temperature_text

KIND = Kind.OVERHEATING
NEEDS = Needs(log=("drive_temp_c",), observed_min_share=0.1)

WEAR, MONTHS = 2, 3


def judge(case: Case) -> Verdict:
    """Judge one pump-week; returns no finding or one."""
    coolest_c = looks_like_fahrenheit(case)
    if coolest_c is not None:
        return NotAssessed(
            reason=f"drive_temp_c reads {coolest_c:.0f} at its coolest, at rest as well: no"
            " controller is that warm cold. Probably logged in F: give the column its unit"
        )
    line = heat_line(case.past_days)
    warm = [] if line is None else warmer_days(case, line)
    hot, folds = hot_days(case), folds_back(case) and not ceiling_is_a_limit(case)
    if not (warm or hot or folds):
        return clear_if_seen(case)
    by_room = bool(warm) and all(day.is_room for day in warm)
    is_wear = not folds and (not warm or by_room)
    sight = Sight(line=line, warm=warm, hot=hot, folds=folds)
    since_at, until_at = spell_bounds(case, sight.shows)
    confidence, texts = weigh(0.55, _grounds(case, sight))
    return (
        Judged(
            kind=KIND,
            cause="",
            consequence=WEAR if is_wear else MONTHS,
            confidence=confidence,
            since_at=since_at,
            until_at=until_at,
            measures=_measures(case, sight),
            summary=_summary(case, sight),
            limit_source=sight.limit.source,
            grounds=texts,
            alternatives=_alternatives(sight),
        ),
    )


@dataclass(frozen=True, kw_only=True)
class Sight:
    """What of the three signs a week shows.

    Attributes
    ----------
    warm : list of HeatDay
        Days far over the pump's own past; empty where none or no past.
    hot : list of PumpDay
        Days on which the drive was hot whatever its past.
    folds : bool
        It cut its output for heat.
    """

    line: HeatLine | None
    warm: list[HeatDay]
    hot: list[PumpDay]
    folds: bool

    @property
    def limit(self) -> Limit:
        """The limit that the finding rests on: own past before level before fold-back."""
        if self.warm:
            return HEAT_EXCESS_C
        return DRIVE_HOT_C if self.hot else FOLD_BACK_S

    @property
    def excess_c(self) -> float | None:
        """Largest excess over the past."""
        return max((day.excess_c for day in self.warm), default=None)

    def shows(self, day: PumpDay) -> bool:
        """Whether a day is among the warm or hot ones; earlier days only where they were hot."""
        return (
            day in self.hot
            or any(one.day == day for one in self.warm)
            or (day.hot_s or 0.0) >= HOT_DAY_S.value
        )


def _grounds(case: Case, sight: Sight) -> list[Ground]:
    units, line = case.site.units, sight.line
    n_room = sum(day.is_room for day in sight.warm)
    n_fan = len(sight.warm) - n_room
    most = temperature_change_text(sight.excess_c or 0.0, units)
    return [
        Ground(
            bool(sight.hot),
            0.15,
            f"Over {temperature_text(DRIVE_HOT_C.value, units)} for"
            f" {duration_text(case.week.hot_s or 0.0)} on {len(sight.hot)} days",
        ),
        Ground(
            n_fan > 0,
            0.15,
            f"Up to {most} hotter under like load than its own past lets expect, and not so at"
            " rest: less cooling, as with a fan or filter",
        ),
        Ground(
            n_room > 0,
            -0.05,
            "The drive is that much hotter at rest as well: sun on the box or a hot room, not its"
            " load",
        ),
        Ground(sight.folds, 0.2, _fold_text(case)),
        Ground(len(sight.warm) >= 4 or len(sight.hot) >= 4, 0.1, "On most days of the week"),
        Ground(line is None, -0.05, "Too few past days with load and rest to compare with"),
        Ground(
            line is not None and not sight.warm,
            0.0,
            "No hotter than in its own past: it has been like this since the record begins",
        ),
    ]


def _fold_text(case: Case) -> str:
    return (
        f"For {duration_text(case.week.fold_back_s or 0.0)} temperature stood at its highest while"
        " speed was held below its maximum and pressure was short"
    )


def _alternatives(sight: Sight) -> tuple[str, ...]:
    if sight.warm and all(day.is_room for day in sight.warm):
        return ("Sun on the box, a closed vent or a heat source beside it",)
    told = ["Blocked fan, fins or filter", "Loose lugs that heat the terminals"]
    if not sight.warm:
        told.append("A drive too small for its load, or a hot room, since the installation")
    return (*told, "A temperature sensor that reads high")


def _measures(case: Case, sight: Sight) -> dict[str, MeasureValue]:
    week, line = case.week, sight.line
    values: dict[str, float | None] = {
        "drive_temp_max_c": week.drive_temp_max_c,
        "hot_s": week.hot_s,
        "excess_c": sight.excess_c,
        "drive_temp_cool_c": week.drive_temp_cool_c,
        "fold_back_s": week.fold_back_s,
        "rise_usual_c": line.rise_c if line else None,
        "rise_per_a_c": line.per_a if line else None,
    }
    measures: dict[str, MeasureValue] = {
        name: None if value is None else round(value, 2) for name, value in values.items()
    }
    measures["n_hot_days"] = len(sight.hot)
    measures["n_warmer_days"] = len(sight.warm)
    measures["n_past_days"] = line.n_days if line else 0
    measures["is_surroundings"] = bool(sight.warm) and all(day.is_room for day in sight.warm)
    measures["folds_back"] = sight.folds
    return measures


def _summary(case: Case, sight: Sight) -> str:
    units, n_seen = case.site.units, len(days_seen(case))
    text = f"The drive of pump {case.pump.pump_id} reached"
    text += f" {temperature_text(case.week.drive_temp_max_c or 0.0, units)}"
    if sight.warm:
        more = temperature_change_text(sight.excess_c or 0.0, units)
        text += (
            f", {more} more than its own past at like load, on {len(sight.warm)} of {n_seen} days"
        )
    elif sight.hot:
        limit = temperature_text(DRIVE_HOT_C.value, units)
        text += f", over {limit} on {len(sight.hot)} of {n_seen} days"
    if sight.folds:
        text += "; it cuts its speed for heat and pressure falls short"
    return f"{text}."

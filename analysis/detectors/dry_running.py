"""Dry running: the pump turns at speed without water in it.

Reads    spells at speed with the pressure gone, motor current in them; what current to expect at
         like speed; no-flow current.
Causes   suction_lost: well drawn down, prime lost, valve or screen shut.
Misses   a spell shorter than the log's interval: what lasts or comes back meets samples of a
         log of up to 30 s, but one slower than 10 s clears no pump. Why the suction is gone.
         Never from pressure alone: with the current of a pump full of water it is a burst, an
         open hydrant, a filling line or a sensor.
"""

from statistics import median

from analysis.case import Case, Verdict
from analysis.detectors.certainty import weigh
from analysis.detectors.dry_wording import alternatives, grounds, summary
from analysis.detectors.gone_spells import Gone, Spell, gone_spells, of_kind
from analysis.detectors.register_contradictions import pressure_contradiction
from analysis.detectors.sensor_evidence import pressure_is_bad
from analysis.detectors.spells import clear_if_seen
from analysis.findings import Judged, Kind, MeasureValue, Needs, NotAssessed
from analysis.limits import DRY_CLEAR_LOG_S, GONE_MIN_S, GONE_SHARE

KIND = Kind.DRY_RUNNING
NEEDS = Needs(log=("current_a",), interval_max_s=30.0)

NO_WATER = 5
_SURE, _MAYBE = 0.75, 0.4


def judge(case: Case) -> Verdict:
    """Judge one pump-week; returns no finding or one."""
    if case.week.n_gone is None:
        return NotAssessed(reason="no pressure setting in the register and none held this week")
    contradiction = pressure_contradiction(case)
    if contradiction is not None:
        return NotAssessed(reason=contradiction.reason)
    spells = gone_spells(case)
    sure, maybe = of_kind(spells, Gone.DRY), of_kind(spells, Gone.MAYBE_DRY)
    dry = tuple(s for s in spells if s.what in (Gone.DRY, Gone.MAYBE_DRY)) if sure else maybe
    if not dry:
        return _none_dry(case, spells)
    bad_sensor = pressure_is_bad(case)
    if bad_sensor is not None and not sure:
        return NotAssessed(reason=f"the pressure reading cannot be trusted: {bad_sensor}")
    confidence, texts = weigh(_SURE if sure else _MAYBE, grounds(case, dry))
    return (
        Judged(
            kind=KIND,
            cause="suction_lost",
            consequence=NO_WATER,
            confidence=confidence,
            since_at=dry[0].from_at,
            until_at=min(dry[-1].to_at, case.week.last_at),
            measures=_measures(case, dry),
            summary=summary(case, dry),
            limit_source=f"{GONE_MIN_S.source}; {GONE_SHARE.source}; affinity laws",
            grounds=texts,
            alternatives=alternatives(case, dry),
        ),
    )


def _none_dry(case: Case, spells: tuple[Spell, ...]) -> Verdict:
    if of_kind(spells, Gone.UNTOLD):
        return NotAssessed(
            reason="pressure was gone at speed, but nothing tells whether the motor's current was"
            " that of a dry pump"
        )
    interval_s = case.week.log_interval_s
    if interval_s > DRY_CLEAR_LOG_S.value:
        return NotAssessed(
            reason=f"nothing found, but one sample every {interval_s:.0f} s can step over a dry"
            f" spell; calling it clear needs {DRY_CLEAR_LOG_S.value:.0f} s or faster"
        )
    return clear_if_seen(case)


def _measures(case: Case, dry: tuple[Spell, ...]) -> dict[str, MeasureValue]:
    shares = [s.current_pct for s in dry if s.current_pct is not None]
    amps = [s.current_a for s in dry if s.current_a is not None]
    expected = [s.expected.current_a for s in dry if s.expected is not None]
    after_s = [s.after_start_s for s in dry if s.after_start_s is not None]
    spread = [s.current_cv for s in dry if s.current_cv is not None]
    values: dict[str, float | None] = {
        "dry_s": sum(s.length_s for s in dry),
        "current_pct_expected": median(shares) if shares else None,
        "dry_spells": len(dry),
        "dry_s_longest": max(s.length_s for s in dry),
        "pressure_pct_setting": 100 * median(s.share_of_setting for s in dry),
        "frequency_hz": median(s.frequency_hz for s in dry),
        "current_a": median(amps) if amps else None,
        "expected_current_a": median(expected) if expected else None,
        "after_start_s_median": median(after_s) if after_s else None,
        "current_scatter": median(spread) if spread else None,
        "held_after_s": case.week.held_after_gone_s,
    }
    told: dict[str, MeasureValue] = {
        name: None if value is None else round(value, 3) for name, value in values.items()
    }
    first = dry[0].expected
    told["expected_from"] = None if first is None else first.text
    told["longest_dry_at"] = max(dry, key=lambda s: s.length_s).from_at.isoformat()
    return told

"""When each fault began on each pump, and how long the pump was looked at for it.

A fault that stays open for ten weeks is one fault, not ten: weeks with a finding of one kind on
one pump make spells. A week without an answer neither begins nor ends one; so many clear weeks as
``CLEAN_WEEKS_TO_CLOSE`` end it. Weeks are numbered (``week_no``), so that they can be subtracted.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache

import duckdb

from analysis.findings import Assessment, Finding, Kind, Status
from analysis.limits import CLEAN_WEEKS_TO_CLOSE
from ingest.weeks import parse_week

EVENT_MEASURES: Mapping[str, str] = {"controller_trip": "trips"}
"""Kinds whose findings count events of their own, and the measure that counts them."""


_NOTHING: Mapping[int, str] = {}
_ROWS_A_FETCH = 20_000


@dataclass(frozen=True, kw_only=True, slots=True)
class Spell:
    """One fault: the weeks of its first and last finding."""

    begins: int
    ends: int


@dataclass(frozen=True, kw_only=True, slots=True)
class FaultHistory:
    """One kind on one pump.

    Attributes
    ----------
    judged : tuple of int
        Weeks in which the kind could be judged (found or clear), rising.
    spells : tuple of Spell
        Oldest first.
    causes : mapping of int to str
        Cause found, by week.
    events : int
        Events the findings count themselves (trips); spells where they count none.
    n_not_judged : int
        Weeks asked for without an answer.
    """

    pump_id: str
    kind: Kind
    judged: tuple[int, ...]
    spells: tuple[Spell, ...]
    causes: Mapping[int, str]
    events: int
    n_not_judged: int = 0

    @property
    def begun_later(self) -> tuple[int, ...]:
        """Weeks in which a spell began after the first look; what was there then is older."""
        if not self.spells:  # of most pumps
            return ()
        return tuple(s.begins for s in self.spells if s.begins > self.judged[0])


def of_cause(history: FaultHistory, cause: str) -> FaultHistory:
    """Keep only the spells that were last laid to one cause."""
    if not history.spells:
        return history
    spells = tuple(s for s in history.spells if history.causes[s.ends] == cause)
    causes = {
        week: said
        for week, said in history.causes.items()
        if any(s.begins <= week <= s.ends for s in spells)
    }
    return replace(history, spells=spells, causes=causes, events=len(spells))


@cache
def week_no(week: str) -> int:
    """Number of an ISO week; the next week has the next number."""
    return (parse_week(week).monday.toordinal() - 1) // 7


def histories_of(
    findings: Iterable[Finding], assessments: Iterable[Assessment]
) -> tuple[FaultHistory, ...]:
    """Histories from answers in memory, by pump and kind."""
    judged: dict[tuple[str, Kind], list[int]] = {}
    asked: dict[tuple[str, Kind], int] = {}
    for answer in assessments:
        key = (answer.pump_id, answer.kind)
        asked[key] = asked.get(key, 0) + 1
        if answer.status in (Status.FOUND, Status.CLEAR):
            judged.setdefault(key, []).append(week_no(answer.week))
    found: dict[tuple[str, Kind], dict[int, tuple[str, int]]] = {}
    for finding in findings:
        key = (finding.pump_id, finding.kind)
        counted = finding.measures.get(EVENT_MEASURES.get(finding.kind, ""))
        events = int(counted) if isinstance(counted, int | float) else 0
        found.setdefault(key, {})[week_no(finding.week)] = (finding.cause, events)
    return tuple(
        _history(*key, tuple(sorted(set(judged.get(key, [])))), found.get(key, {}), asked[key])
        for key in sorted(asked)
    )


def read_histories(
    con: duckdb.DuckDBPyConnection, up_to: str, n_weeks: int
) -> tuple[FaultHistory, ...]:
    """Histories of so many weeks up to and with a week, by pump and kind.

    Grouped in the store, so that a year of a large fleet stays small in memory.
    """
    last = parse_week(up_to)
    window = {"first": str(last.plus(1 - n_weeks)), "last": up_to}
    found: dict[tuple[str, str], dict[int, tuple[str, int]]] = {}
    told = con.execute(
        "select pump_id, kind, week, min(cause), max(coalesce("
        " json_extract_string(measures, '$.trips')::double, 0)) from findings"
        " where week between $first and $last group by pump_id, kind, week",
        window,
    )
    while rows := told.fetchmany(_ROWS_A_FETCH):
        for pump_id, kind, week, cause, measures in rows:
            events = int(measures) if kind in EVENT_MEASURES else 0
            found.setdefault((pump_id, kind), {})[week_no(week)] = (cause, events)
    answers = con.execute(
        "select pump_id, kind,"
        " string_agg(distinct week, ' ' order by week) filter (status in ('found', 'clear')),"
        " count(distinct week)"
        " from assessments where week between $first and $last"
        " group by pump_id, kind order by pump_id, kind",
        window,
    )
    weeks_of: dict[str | None, tuple[int, ...]] = {}  # most pumps were judged in the same weeks
    histories: list[FaultHistory] = []
    while rows := answers.fetchmany(_ROWS_A_FETCH):
        for pump_id, kind, weeks, n_asked in rows:
            if weeks not in weeks_of:
                weeks_of[weeks] = tuple(week_no(week) for week in (weeks or "").split())
            judged, known = weeks_of[weeks], found.get((pump_id, kind), {})
            histories.append(_history(pump_id, Kind(kind), judged, known, n_asked))
    return tuple(histories)


def _history(
    pump_id: str,
    kind: Kind,
    judged: tuple[int, ...],
    found: Mapping[int, tuple[str, int]],
    n_asked: int,
) -> FaultHistory:
    seen = {week: said for week, said in found.items() if week in judged}
    spells = _spells(judged, seen.keys()) if seen else ()
    counted = sum(events for _, events in seen.values())
    return FaultHistory(
        pump_id=pump_id,
        kind=kind,
        judged=judged,
        spells=spells,
        causes={week: cause for week, (cause, _) in sorted(seen.items())} if seen else _NOTHING,
        events=counted or len(spells),
        n_not_judged=n_asked - len(judged),
    )


def _spells(judged: tuple[int, ...], found: Collection[int]) -> tuple[Spell, ...]:
    spells: list[Spell] = []
    clear = 0
    for week in judged:
        if week not in found:
            clear += 1
            continue
        if spells and clear < CLEAN_WEEKS_TO_CLOSE.value:
            spells[-1] = Spell(begins=spells[-1].begins, ends=week)
        else:
            spells.append(Spell(begins=week, ends=week))
        clear = 0
    return tuple(spells)

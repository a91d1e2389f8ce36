"""What judging a week needs of the store, a block of pumps at a time.

However many pumps and years there are, no more than ``BLOCK_PUMP_WEEKS`` records are held.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cached_property

import duckdb

from analysis.answer_reading import read_answers, read_findings, scanned_weeks
from analysis.context import Around, Fleet, by_week, pumps_alike
from analysis.current_bins import Maps
from analysis.findings import Kind, Status
from analysis.history import History, remembered_weeks
from analysis.learned_confidence import learn, outcomes_before
from analysis.neighbours import IdleLows, count_idle_lows
from analysis.past import long_past, recent_since
from analysis.record_reading import Chosen, read_measures, read_records
from analysis.record_tables import Row
from analysis.records import OpMapBin, PumpDay, PumpWeek, TripEvent
from ingest.installed_base import Pump, Register
from ingest.left_out import read_left_out

BLOCK_PUMP_WEEKS = 4_000
"""Ours: about 100 MB of records; a block costs some 30 ms however small it is."""


class FleetReader:
    """Reads the records that some weeks are judged by.

    Parameters
    ----------
    con : DuckDBPyConnection
    register : Register
    weeks : sequence of str
        Weeks to judge, oldest first.
    block_pump_weeks : int
        Pump-weeks to hold at the same time.
    part : tuple of (int, int)
        Which part of the register's pumps, counted from 0, and of how many parts.
    """

    def __init__(
        self,
        con: duckdb.DuckDBPyConnection,
        register: Register,
        weeks: Sequence[str],
        block_pump_weeks: int = BLOCK_PUMP_WEEKS,
        part: tuple[int, int] = (0, 1),
    ) -> None:
        self._con, self.register, self._weeks = con, register, weeks
        self._most, self._part = block_pump_weeks, part

    def blocks(self, week: str) -> Iterator[tuple[Sequence[Pump], Fleet]]:
        """Pumps of the register and their records, block by block, in order of their ids.

        A fleet that fits into one block is read once for all weeks to be judged.
        """
        if len(self._pump_blocks) == 1:
            yield self._pump_blocks[0], self._whole_fleet
            return
        for pumps in self._pump_blocks:
            yield pumps, self._read(pumps, week, week)

    def around(self, week: str) -> Around:
        """What judging one pump takes of the others in a week."""
        return Around(
            lows=self._idle_lows(week),
            learned=learn(
                outcomes_before(week, self.register.visits, self._findings_visited(week).at)
            ),
            alike=_Alike(self._con, self.register, week),
        )

    def history(self, week: str, asked: Sequence[tuple[str, Kind]]) -> History:
        """What was answered before a week, of these pumps and kinds alone."""
        weeks = remembered_weeks(scanned_weeks(self._con), week)
        if not weeks or not asked:
            return History()
        answers: dict[tuple[str, Kind], list[tuple[str, Status]]] = {}
        for pump_id, kind, name, status in read_answers(self._con, weeks, asked):
            answers.setdefault((pump_id, kind), []).append((name, status))
        history = History(answers=answers)
        pump_ids = sorted({pump_id for pump_id, _ in asked})
        history.add(read_findings(self._con, weeks=weeks, pump_ids=pump_ids), ())
        return history

    def _findings_visited(self, week: str) -> History:
        """Findings of pumps that somebody visited."""
        history = History()
        visited = sorted({v.pump_id for v in self.register.visits if v.pump_id and v.kind})
        weeks = remembered_weeks(scanned_weeks(self._con), week)
        if visited and weeks:
            history.add(read_findings(self._con, weeks=weeks, pump_ids=visited), ())
        return history

    def _idle_lows(self, week: str) -> IdleLows:
        volts = read_measures(self._con, week, ["idle_v_p05"])
        return count_idle_lows(self.register, {pump: row[0] for pump, row in volts.items()})

    @cached_property
    def _pump_blocks(self) -> list[list[Pump]]:
        number, of = self._part
        ids = sorted(self.register.pumps)
        ids = ids[len(ids) * number // of : len(ids) * (number + 1) // of]
        pumps = [self.register.pumps[pump_id] for pump_id in ids]
        first, last = recent_since(self._weeks[0]), self._weeks[-1]
        (n_weeks,) = self._con.execute(
            "select count(distinct week) from pump_week where week between $first and $last",
            {"first": first, "last": last},
        ).fetchall()[0]
        size = max(1, self._most // max(1, n_weeks))
        return [pumps[at : at + size] for at in range(0, len(pumps), size)]

    @cached_property
    def _whole_fleet(self) -> Fleet:
        return self._read(self._pump_blocks[0], self._weeks[0], self._weeks[-1])

    @cached_property
    def _last_heard(self) -> dict[str, str]:
        """Last week of each pump that was silent all through the recent past of the first one."""
        rows = self._con.execute(
            "select pump_id, max(week) from pump_week where week < $since and pump_id not in"
            " (select pump_id from pump_week where week >= $since and week < $first)"
            " group by pump_id",
            {"since": recent_since(self._weeks[0]), "first": self._weeks[0]},
        )
        return dict(rows.fetchall())

    def _read(self, pumps: Sequence[Pump], first: str, last: str) -> Fleet:
        """Records of neighbouring pumps that the weeks from one to another are judged by."""
        stretch = Chosen(from_pump=pumps[0].pump_id, to_pump=pumps[-1].pump_id)
        recent = replace(stretch, since=recent_since(first), up_to=last)
        long = replace(stretch, weeks=sorted(long_past(first)))
        silent = [pump.pump_id for pump in pumps if pump.pump_id in self._last_heard]
        heard = Chosen(pump_ids=silent, weeks=sorted({self._last_heard[p] for p in silent}))
        weeks = _joined(self._con, PumpWeek, [long, recent])
        for pump_id, earlier in read_records(self._con, PumpWeek, heard).items() if silent else ():
            known = {one.week for one in weeks.get(pump_id, ())}
            added = [o for o in earlier if o.week == self._last_heard[pump_id]]
            weeks[pump_id] = [o for o in added if o.week not in known] + weeks.get(pump_id, [])
            weeks[pump_id].sort(key=lambda one: one.week)
        return Fleet(
            register=self.register,
            weeks=weeks,
            days=_joined(self._con, PumpDay, [recent]),
            op_map=_joined(self._con, OpMapBin, [long, recent]),
            trips=_joined(self._con, TripEvent, [replace(stretch, since=first, up_to=last)]),
            left_out=read_left_out(
                self._con, (pumps[0].pump_id, pumps[-1].pump_id), (first, last)
            ),
        )


class _Alike:
    """Operating maps of the pumps of a model, read when one of them is asked for."""

    def __init__(self, con: duckdb.DuckDBPyConnection, register: Register, week: str) -> None:
        self._con, self._register, self._week = con, register, week
        self._maps: dict[str, Maps] = {}

    def __call__(self, pump: Pump) -> list[Maps]:
        """Maps of each of the others, a week each."""
        others = pumps_alike(self._register, pump)
        unread = [pump_id for pump_id in others if pump_id not in self._maps]
        if unread:
            chosen = Chosen(pump_ids=unread, since=recent_since(self._week), up_to=self._week)
            found = read_records(self._con, OpMapBin, chosen)
            for pump_id in unread:
                cells = found.get(pump_id, [])
                self._maps[pump_id] = list(by_week(cells, up_to=self._week).values())
        return [self._maps[pump_id] for pump_id in others]


def _joined(
    con: duckdb.DuckDBPyConnection, record: type[Row], parts: Sequence[Chosen]
) -> dict[str, list[Row]]:
    """Records of several stretches of weeks, the older first."""
    joined: dict[str, list[Row]] = {}
    for chosen in parts:
        for pump_id, rows in read_records(con, record, chosen).items():
            joined.setdefault(pump_id, []).extend(rows)
    return joined

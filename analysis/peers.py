"""Pumps unlike their peers this week: pumps of like duty compared in what they did.

Peers have the same suction, a like size, setting and tank. Each measure is taken as a ratio to the
peers' median and scaled by their own spread; an isolation forest [1]_ over all pumps says which
combinations are rare, and only what stands out in a measure a person can name is told ("starts 4
times its peers"). It is a note, no finding: a pump that a detector said something about gets none.

References
----------
.. [1] F. T. Liu, K. M. Ting, Z.-H. Zhou, "Isolation forest", IEEE ICDM, 2008.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import log

import numpy as np
from numpy.typing import NDArray

from analysis.findings import Finding
from analysis.limits import Limit
from analysis.records import PumpWeek
from analysis.wording import join_text
from ingest.installed_base import Pump, Register

MIN_PEERS = Limit(8, "peers", "ours: a median and a spread of fewer hang on single pumps")
MIN_FLEET = Limit(30, "pumps compared", "ours: a forest of fewer has nothing to isolate from")
SIZE_RATIO = Limit(1.6, "times the rated power", "ours: the next motor size up or down")
TANK_RATIO = Limit(1.6, "times the tank", "ours: the next tank size up or down")
SETTING_PCT = Limit(15, "% of the setting", "ours: 50 and 60 psi are different duties, 58 is not")
UNLIKE_SPREADS = Limit(
    4, "spreads of the peers", "ours: chance makes one in thousands that far out"
)
UNLIKE_RATIO = Limit(2, "times the peers' median", "ours: less is a household's own way")
LEAST_SPREAD = Limit(
    0.25, "share of the median", "ours: peers that agree closer than that do so by luck"
)
MAX_PEERS = Limit(
    400, "peers", "ours: their median is known to 6 % of their spread (1.25 / sqrt(n)); time"
)
TOLD_MEASURES = 3
_EQUAL = 1e-9  # sizes that differ by rounding only
_TREES, _SEED = 100, 0  # path lengths have settled well before a hundred trees [1]_


@dataclass(frozen=True, kw_only=True)
class PeerNote:
    """What comparing one pump with its peers gave.

    Attributes
    ----------
    n_peers : int
        Peers with data this week.
    text : str
        "Unlike its 14 peers: ...", or "" where it is like them.
    reason : str
        Why it was not assessed, or "".
    """

    pump_id: str
    n_peers: int
    text: str
    reason: str


@dataclass(frozen=True)
class _Measure:
    """One thing compared: how it is called, and its value in a pump's week."""

    name: str
    of: Callable[[PumpWeek, Pump], float | None]


def _over(value: float | None, by: float | None) -> float | None:
    return None if value is None or not by else value / by


_MEASURES = (
    _Measure("starts a day", lambda week, pump: week.starts_per_day),
    _Measure("time running", lambda week, pump: week.run_share),
    _Measure("length of a run", lambda week, pump: week.run_s_median),
    _Measure("length of a stop", lambda week, pump: week.stop_s_median),
    _Measure("steepest falls of pressure", lambda week, pump: week.fall_p90_kpa_per_min),
    _Measure("motor amps for its rating", lambda w, pump: _over(w.current_p95_a, pump.rated_amps)),
    _Measure("drop of volts at a start", lambda w, pump: _over(w.own_drop_v, pump.supply_volts)),
    _Measure("overshoot at a stop", lambda week, pump: week.overshoot_kpa),
)

_DUTY = ("suction", "motor_kw", "pressure_setting_kpa", "tank_l")


def peer_notes(register: Register, weeks: Mapping[str, PumpWeek]) -> dict[str, PeerNote]:
    """Compare every pump with data this week with its peers.

    Parameters
    ----------
    weeks : mapping
        This week's record by pump id.

    Returns
    -------
    dict of PeerNote by pump id, of pumps with data this week.
    """
    pumps = [register.pumps[p] for p in sorted(weeks) if p in register.pumps]
    values = np.array([_logs(weeks[pump.pump_id], pump) for pump in pumps])
    peers_of = _Duties(pumps)
    notes: dict[str, PeerNote] = {}
    scaled: dict[str, tuple[NDArray[np.float64], NDArray[np.float64], int]] = {}
    for place, pump in enumerate(pumps):
        blank = [name for name in _DUTY if getattr(pump, name) is None]
        peers = peers_of.at(place)
        reason = f"no {' and no '.join(blank)} in the register" if blank else ""
        if not reason and peers.size < MIN_PEERS.value:
            reason = f"{peers.size} peers with data, fewer than {MIN_PEERS.value:.0f}"
        notes[pump.pump_id] = PeerNote(
            pump_id=pump.pump_id, n_peers=peers.size, text="", reason=reason
        )
        if not reason:
            scaled[pump.pump_id] = (*_against(values[place], values[peers]), peers.size)
    if len(scaled) < MIN_FLEET.value:
        few = f"{len(scaled)} pumps to compare, fewer than {MIN_FLEET.value:.0f}"
        return {
            p: note
            if note.reason
            else PeerNote(pump_id=p, n_peers=note.n_peers, text="", reason=few)
            for p, note in notes.items()
        }
    ids = list(scaled)
    rare = _rare(np.array([scaled[p][0] for p in ids]))
    for pump_id, is_rare in zip(ids, rare, strict=True):
        spreads, ratios, n_peers = scaled[pump_id]
        text = _text(spreads, ratios, n_peers) if is_rare else ""
        notes[pump_id] = PeerNote(pump_id=pump_id, n_peers=n_peers, text=text, reason="")
    return notes


def silent_where_told(
    notes: Mapping[str, PeerNote], findings: Iterable[Finding]
) -> list[PeerNote]:
    """Take the text from the notes of pumps that have a finding; in order of pump id."""
    told = {finding.pump_id for finding in findings}
    return [
        replace(note, text="") if pump_id in told else note
        for pump_id, note in sorted(notes.items())
    ]


class _Duties:
    """What pumps are set and built for, to find each one's peers among them."""

    def __init__(self, pumps: Sequence[Pump]) -> None:
        self.motor_kw, self.tank_l, self.setting_kpa = (
            np.array([getattr(pump, name) or np.nan for pump in pumps], dtype=np.float64)
            for name in ("motor_kw", "tank_l", "pressure_setting_kpa")
        )
        suctions = sorted({str(pump.suction) for pump in pumps})
        self.suction = np.array([suctions.index(str(pump.suction)) for pump in pumps])
        self.by_size = np.argsort(self.motor_kw, kind="stable")
        self.sizes_kw = self.motor_kw[self.by_size]

    def at(self, place: int) -> NDArray[np.int64]:
        """Places of a pump's peers, in order; none where its duty is not known."""
        size_kw = self.motor_kw[place]
        if not np.isfinite(size_kw):
            return np.empty(0, np.int64)
        reach = SIZE_RATIO.value * (1.0 + _EQUAL)
        low, high = np.searchsorted(self.sizes_kw, [size_kw / reach, size_kw * reach])
        near = np.sort(self.by_size[low:high])
        is_peer = (
            (self.suction[near] == self.suction[place])
            & _are_like(self.tank_l[near], self.tank_l[place], TANK_RATIO.value)
            & _are_like(
                self.setting_kpa[near], self.setting_kpa[place], 1.0 + SETTING_PCT.value / 100.0
            )
            & (near != place)
        )
        peers: NDArray[np.int64] = near[is_peer]
        if peers.size <= MAX_PEERS.value:
            return peers
        spaced = np.linspace(0, peers.size - 1, int(MAX_PEERS.value)).astype(np.int64)
        return np.take(peers, spaced)


def _are_like(values: NDArray[np.float64], one: float, ratio: float) -> NDArray[np.bool_]:
    return np.maximum(values, one) <= ratio * (1.0 + _EQUAL) * np.minimum(values, one)


def _logs(week: PumpWeek, pump: Pump) -> list[float]:
    found = [measure.of(week, pump) for measure in _MEASURES]
    return [log(value) if value is not None and value > 0.0 else np.nan for value in found]


def _against(
    own: Sequence[float], peers: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Spreads and ratios from the peers' median, measure by measure; 0 and 1 where not known."""
    known = np.isfinite(peers).sum(axis=0) >= MIN_PEERS.value
    filled = np.where(known, peers, 0.0)  # a column of blanks has no median
    middle = np.nanmedian(filled, axis=0)
    spread = 1.4826 * np.nanmedian(np.abs(filled - middle), axis=0)
    away = np.where(known & np.isfinite(own), np.asarray(own) - middle, 0.0)
    return away / np.maximum(spread, np.log1p(LEAST_SPREAD.value)), np.exp(away)


def _rare(spreads: NDArray[np.float64]) -> NDArray[np.bool_]:
    from sklearn.ensemble import IsolationForest

    forest = IsolationForest(n_estimators=_TREES, random_state=_SEED)
    return np.asarray(forest.fit_predict(spreads) == -1)


def _text(spreads: NDArray[np.float64], ratios: NDArray[np.float64], n_peers: int) -> str:
    far = [
        n
        for n in np.argsort(-np.abs(spreads), kind="stable")
        if abs(spreads[n]) >= UNLIKE_SPREADS.value
        and max(ratios[n], 1.0 / ratios[n]) >= UNLIKE_RATIO.value
    ]
    if not far:
        return ""
    told = join_text(
        [f"{_MEASURES[n].name} {ratios[n]:.1f} times theirs" for n in far[:TOLD_MEASURES]]
    )
    return (
        f"Unlike its {n_peers} peers of like size, setting, suction and tank: {told}."
        " No fault is shown by it; ask what is different there."
    )

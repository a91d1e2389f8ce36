"""Pumps unlike their peers this week: pumps of like duty compared in what they did.

Peers have the same suction, a like size, setting and tank. Each measure is taken as a ratio to the
peers' median and scaled by their own spread; an isolation forest [1]_ over all pumps says which
combinations are rare, and only what stands out in a measure a person can name is told ("starts 4
times its peers"). It is a note, no finding: a pump that a detector said something about gets none.

References
----------
.. [1] F. T. Liu, K. M. Ting, Z.-H. Zhou, "Isolation forest", IEEE ICDM, 2008.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import log
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.few import middle_of_seen
from analysis.limits import Limit
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


_MEASURES: Mapping[str, tuple[str, str | None]] = {
    "starts_per_day": ("starts a day", None),
    "run_share": ("time running", None),
    "run_s_median": ("length of a run", None),
    "stop_s_median": ("length of a stop", None),
    "fall_p90_kpa_per_min": ("steepest falls of pressure", None),
    "current_p95_a": ("motor amps for its rating", "rated_amps"),
    "own_drop_v": ("drop of volts at a start", "supply_volts"),
    "overshoot_kpa": ("overshoot at a stop", None),
}
"""Fields of ``PumpWeek`` compared: what each is called, and what of the pump it is a share of."""

MEASURED = tuple(_MEASURES)

_DUTY = ("suction", "motor_kw", "pressure_setting_kpa", "tank_l")


def notes_of(register: Register, measured: Mapping[str, Sequence[Any]]) -> dict[str, PeerNote]:
    """Compare every pump with data this week with its peers.

    Parameters
    ----------
    measured : mapping of str to sequence
        The week's ``MEASURED`` by pump id.

    Returns
    -------
    dict of PeerNote by pump id, of pumps with data this week.
    """
    pumps = [register.pumps[p] for p in sorted(measured) if p in register.pumps]
    values = np.array([_logs(measured[pump.pump_id], pump) for pump in pumps])
    notes: dict[str, PeerNote] = {}
    scaled: dict[str, tuple[NDArray[np.float64], NDArray[np.float64], int]] = {}
    for place, peers in _peers_of(pumps):
        pump = pumps[place]
        blank = [name for name in _DUTY if getattr(pump, name) is None]
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
    ids = sorted(scaled)  # the forest's trees hang on the order of its rows
    rare = _rare(np.array([scaled[p][0] for p in ids]))
    for pump_id, is_rare in zip(ids, rare, strict=True):
        spreads, ratios, n_peers = scaled[pump_id]
        text = _text(spreads, ratios, n_peers) if is_rare else ""
        notes[pump_id] = PeerNote(pump_id=pump_id, n_peers=n_peers, text=text, reason="")
    return notes


def silent_where_told(notes: Mapping[str, PeerNote], told: Collection[str]) -> list[PeerNote]:
    """Take the text from the notes of pumps that have a finding; in order of pump id.

    Parameters
    ----------
    told : set of str
        Pumps with a finding.
    """
    return [
        replace(note, text="") if pump_id in told else note
        for pump_id, note in sorted(notes.items())
    ]


def _peers_of(pumps: Sequence[Pump]) -> Iterator[tuple[int, NDArray[np.int64]]]:
    """Places of each pump and of its peers, in no order of its own.

    Pumps of one duty have the same peers but for themselves, so those are looked for once.
    """
    duties = _Duties(pumps)
    of_duty: dict[tuple[object, ...], list[int]] = {}
    for place, pump in enumerate(pumps):
        of_duty.setdefault(tuple(getattr(pump, name) for name in _DUTY), []).append(place)
    for places in of_duty.values():
        alike = duties.alike(places[0])
        for place in places:
            at = int(np.searchsorted(alike, place))
            n_others = alike.size - (at < alike.size and alike[at] == place)
            chosen = np.arange(n_others)
            if n_others > MAX_PEERS.value:
                chosen = np.linspace(0, n_others - 1, int(MAX_PEERS.value)).astype(np.int64)
            yield place, alike[chosen + (chosen >= at) * (n_others < alike.size)]


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

    def alike(self, place: int) -> NDArray[np.int64]:
        """Places of pumps of a pump's duty, itself among them; none where it is not known."""
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
        )
        found: NDArray[np.int64] = near[is_peer]
        return found


def _are_like(values: NDArray[np.float64], one: float, ratio: float) -> NDArray[np.bool_]:
    return np.maximum(values, one) <= ratio * (1.0 + _EQUAL) * np.minimum(values, one)


def _logs(measured: Sequence[Any], pump: Pump) -> list[float]:
    found = []
    for value, (_, share_of) in zip(measured, _MEASURES.values(), strict=True):
        by = 1.0 if share_of is None else getattr(pump, share_of)
        found.append(log(value / by) if value is not None and value > 0.0 and by else np.nan)
    return found


def _against(
    own: Sequence[float], peers: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Spreads and ratios from the peers' median, measure by measure; 0 and 1 where not known."""
    known = np.isfinite(peers).sum(axis=0) >= MIN_PEERS.value
    filled = np.where(known, peers, 0.0)  # a column of blanks has no median
    middle = middle_of_seen(filled)
    spread = 1.4826 * middle_of_seen(np.abs(filled - middle))
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
        [f"{_MEASURES[MEASURED[n]][0]} {ratios[n]:.1f} times theirs" for n in far[:TOLD_MEASURES]]
    )
    return (
        f"Unlike its {n_peers} peers of like size, setting, suction and tank: {told}."
        " No fault is shown by it; ask what is different there."
    )

"""Who draws water when: households, farms and small buildings.

Each use gives draws as three arrays: start [s from the first local midnight], length [s], flow
[L/min]. Local clock times follow the site's zone, clock changes included.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from sample_data.plant import Floats

Draws = tuple[Floats, Floats, Floats]


@dataclass(frozen=True)
class Calendar:
    """The local days of the simulated weeks.

    Attributes
    ----------
    begin_at : datetime
        UTC instant of the first local midnight, a Monday.
    midnight_s : ndarray, shape (days + 1,)
        Local midnights, the end included, since ``begin_at``. [s]
    zone : str
        IANA name.
    """

    begin_at: datetime
    midnight_s: Floats
    zone: str

    @property
    def n_days(self) -> int:
        """Local days."""
        return len(self.midnight_s) - 1

    @property
    def length_s(self) -> float:
        """From the first local midnight to the last [s]."""
        return float(self.midnight_s[-1])

    def offset_s(self, at_s: Floats) -> Floats:
        """Seconds that local clocks are ahead of UTC [s]."""
        zone = ZoneInfo(self.zone)
        hours = np.arange(0.0, self.length_s + 7200, 3600)
        ahead = np.array(
            [_ahead_s(self.begin_at + timedelta(seconds=float(h)), zone) for h in hours]
        )
        index = np.clip((at_s // 3600).astype(np.int64), 0, len(hours) - 1)
        result: Floats = ahead[index]
        return result

    def local_hour(self, at_s: Floats) -> Floats:
        """Hours on local clocks since the first midnight [h]."""
        ahead = self.offset_s(at_s)
        hours: Floats = (at_s + ahead - ahead[0]) / 3600
        return hours

    def at(self, days_before_end: float, hour: float = 0.0) -> float:
        """Seconds of a local day counted back from the end, at an hour [s]."""
        day = max(0, min(self.n_days, self.n_days - round(days_before_end)))
        return float(self.midnight_s[day] + hour * 3600)

    def week_name(self, day: int) -> str:
        """ISO week of a local day, counted from the first."""
        date = datetime.fromisoformat(self.date_text(float(self.midnight_s[day]) + 43_200))
        return "{}-W{:02d}".format(*date.isocalendar()[:2])

    def date_text(self, at_s: float) -> str:
        """Local date as ISO text."""
        moment = self.begin_at + timedelta(seconds=at_s)
        return moment.replace(tzinfo=UTC).astimezone(ZoneInfo(self.zone)).date().isoformat()


def _ahead_s(moment: datetime, zone: ZoneInfo) -> float:
    offset = moment.replace(tzinfo=UTC).astimezone(zone).utcoffset()
    return offset.total_seconds() if offset else 0.0


def make_calendar(last_week: str, weeks: int, zone: str) -> Calendar:
    """The local days of ``weeks`` ISO weeks that end with ``last_week`` (``2026-W47``)."""
    year, week = last_week.split("-W")
    monday = datetime.fromisocalendar(int(year), int(week), 1) - timedelta(weeks=weeks - 1)
    info = ZoneInfo(zone)
    midnights = [
        (monday + timedelta(days=day)).replace(tzinfo=info).astimezone(UTC)
        for day in range(7 * weeks + 1)
    ]
    begin = midnights[0]
    passed = np.array([(moment - begin).total_seconds() for moment in midnights])
    return Calendar(begin.replace(tzinfo=None), passed, zone)


@dataclass(frozen=True)
class Use:
    """One kind of draw: how often, when, how long, how much.

    ``flow`` is in L/min, or a share of the pump set's large flow where ``is_share``.
    ``blocks`` are local hours with their weights: (from, to, weight).
    """

    per_day: float
    blocks: tuple[tuple[float, float, float], ...]
    length_s: tuple[float, float]
    flow: tuple[float, float]
    is_share: bool = False


HOME_HOURS = (
    (0, 5.5, 0.035),
    (5.5, 9, 0.36),
    (9, 16.5, 0.25),
    (16.5, 22.5, 0.335),
    (22.5, 24, 0.02),
)
FARM_HOURS = ((4.5, 8.5, 0.4), (8.5, 16, 0.3), (16, 20, 0.3))
WORK_HOURS = ((6, 9, 0.3), (9, 17, 0.5), (17, 21, 0.2))

PROFILES: dict[str, tuple[Use, ...]] = {
    "home": (
        Use(13, HOME_HOURS, (50, 80), (4.2, 6.0)),  # toilets
        Use(9, HOME_HOURS, (15, 60), (2.8, 5.0)),  # taps
        Use(2.6, ((6, 9, 0.6), (19, 22.5, 0.4)), (240, 540), (7.0, 9.5)),  # showers
        Use(2.5, ((8, 21, 1.0),), (110, 170), (8.0, 11.0)),  # machines
        Use(0.5, ((9, 19, 1.0),), (600, 1800), (0.75, 0.95), True),  # hose, bath
    ),
    "busy_home": (
        Use(24, HOME_HOURS, (50, 80), (4.2, 6.0)),
        Use(34, HOME_HOURS, (20, 75), (2.4, 4.2)),
        Use(5, ((6, 9, 0.6), (19, 22.5, 0.4)), (240, 540), (6.5, 8.5)),
        Use(4, ((8, 21, 1.0),), (110, 170), (8.0, 11.0)),
        Use(0.4, ((9, 19, 1.0),), (600, 1800), (0.75, 0.95), True),
    ),
    "farm": (
        Use(9, FARM_HOURS, (240, 900), (0.35, 0.65), True),  # stock waterers
        Use(4.5, ((5, 8, 0.5), (15, 19, 0.5)), (1500, 3000), (0.93, 1.0), True),  # wash-down
        Use(4, FARM_HOURS, (60, 240), (8.0, 14.0)),
    ),
    "building": (
        Use(24, WORK_HOURS, (60, 200), (5.0, 12.0)),
        Use(7, WORK_HOURS, (600, 1500), (0.4, 0.7), True),
        Use(4, ((6, 9, 0.5), (11, 14, 0.5)), (900, 2100), (0.9, 1.0), True),
    ),
    "none": (),
}


def _starts(rng: np.random.Generator, cal: Calendar, use: Use, factor: float) -> Floats:
    counts = rng.poisson(use.per_day * factor, cal.n_days)
    day = np.repeat(np.arange(cal.n_days), counts)
    spans = np.array(use.blocks)
    block = rng.choice(len(spans), len(day), p=spans[:, 2] / spans[:, 2].sum())
    hour = rng.uniform(spans[block, 0], spans[block, 1])
    result: Floats = cal.midnight_s[day] + hour * 3600
    return result


def everyday(
    rng: np.random.Generator, cal: Calendar, profile: str, large_lpm: float, factor: float
) -> Draws:
    """The draws of a profile over all days; ``factor`` scales how many."""
    parts: list[Draws] = []
    for use in PROFILES[profile]:
        start = _starts(rng, cal, use, factor)
        length = rng.uniform(*use.length_s, len(start))
        flow = rng.uniform(*use.flow, len(start)) * (large_lpm if use.is_share else 1.0)
        parts.append((start, length, flow))
    return join(parts)


def join(parts: list[Draws]) -> Draws:
    """Several sets of draws as one."""
    if not parts:
        return np.zeros(0), np.zeros(0), np.zeros(0)
    starts, lengths, flows = zip(*parts, strict=True)
    return np.concatenate(starts), np.concatenate(lengths), np.concatenate(flows)

"""What a chart is made from, and what a page gets: a pump's week in, a titled figure out."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from analysis.brief_contents import Brief, PumpBrief
from analysis.limits import GAP_INTERVALS, GAP_MIN_S
from dashboards.charts.downsample import Thinned, thin
from dashboards.charts.local_time import instant_ms, local_ms, us_of, zone_title
from dashboards.charts.quantity import Quantity
from dashboards.charts.theme import Figure, time_axis
from ingest.samples import CHANNELS, PumpSamples


@dataclass(frozen=True, kw_only=True)
class Chart:
    """One chart of a page.

    Attributes
    ----------
    title : str
        What it shows.
    reading : str
        What to see in it, in words: stands in for the picture where none can be drawn.
    """

    title: str
    reading: str
    figure: Figure


def samples_between(samples: PumpSamples, from_us: int, to_us: int) -> PumpSamples:
    """Samples in ``[from_us, to_us)``."""
    first, end = np.searchsorted(samples.ts_us, (from_us, to_us)).tolist()
    if first == 0 and end == samples.ts_us.size:
        return samples
    cut = {name: getattr(samples, name)[first:end] for name in ("ts_us", *CHANNELS)}
    codes = None if samples.fault_code is None else samples.fault_code[first:end]
    return replace(samples, **cut, fault_code=codes)


@dataclass(frozen=True, kw_only=True)
class Scene:
    """One pump's week as a chart sees it; ``samples`` are those of the week."""

    brief: Brief
    pump: PumpBrief
    samples: PumpSamples

    @property
    def units(self) -> str:
        """Units of the site's pages."""
        return self.brief.site.units

    @property
    def timezone(self) -> str:
        """Zone of the site's clock."""
        return self.brief.site.timezone

    @cached_property
    def x_ms(self) -> NDArray[np.float64]:
        """Local clock time of the samples [ms]."""
        return local_ms(self.samples.ts_us, self.timezone)

    @cached_property
    def gap_s(self) -> float:
        """Longest step a line bridges [s]."""
        interval_s = self.pump.week.log_interval_p95_s if self.pump.week else 0.0
        return max(GAP_MIN_S.value, GAP_INTERVALS.value * interval_s)

    @cached_property
    def zone(self) -> str:
        """Title of a time axis."""
        return zone_title(self.timezone, self.brief.from_at, self.brief.to_at)

    @property
    def week_us(self) -> tuple[int, int]:
        """Bounds of the week [us]."""
        return us_of(self.brief.from_at), us_of(self.brief.to_at)

    @property
    def week_ms(self) -> tuple[float, float]:
        """Bounds of the week on the local clock [ms]."""
        return (
            instant_ms(self.brief.from_at, self.timezone),
            instant_ms(self.brief.to_at, self.timezone),
        )

    def clock_ms(self, instant_us: int) -> float:
        """Local clock time of one instant [ms]."""
        return float(local_ms(np.array([instant_us], dtype=np.int64), self.timezone)[0])

    def thinned(
        self,
        channel: str,
        quantity: Quantity,
        n_buckets: int,
        part: slice = slice(None),
    ) -> Thinned:
        """Thinned line of a channel over the week or a part of it, in the site's units."""
        values: NDArray[np.float32] = getattr(self.samples, channel)[part]
        return thin(self.x_ms[part], quantity.of_array(values), n_buckets, self.gap_s * 1000.0)

    def part(self, from_us: int, to_us: int) -> slice:
        """Positions of the samples from one instant to another."""
        first, end = np.searchsorted(self.samples.ts_us, (from_us, to_us)).tolist()
        return slice(first, end)

    def week_axis(self, **more: object) -> Mapping[str, object]:
        """Time axis over the week."""
        from_ms, to_ms = self.week_ms
        return time_axis(f"Time ({self.zone})", from_ms, to_ms, tickformat="%a %d %b", **more)

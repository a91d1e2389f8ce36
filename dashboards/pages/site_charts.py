"""The charts of a site: drawn pump by pump from its samples, and in the order they are shown."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import duckdb

from analysis.brief_contents import Brief, PumpBrief
from dashboards.charts.evidence import evidence
from dashboards.charts.fix import before_and_after
from dashboards.charts.local_time import us_of
from dashboards.charts.scene import Chart, Scene, samples_between
from dashboards.charts.week_strip import week_strip
from ingest.samples import PumpSamples, read_samples

_STRIP_POINTS = 12_000
_EVIDENCE_POINTS = 1_500
_POINTS_PER_BUCKET = 16  # four channels, four points each
_LEAST_BUCKETS = 60
"""A page keeps below 400 kB: 16 bytes a point in base64. Ours: it must open from a mail."""

PumpChart = tuple[str, Chart]
"""A chart with the pump whose week it shows."""


@dataclass(frozen=True, kw_only=True)
class PumpCharts:
    """Charts of one pump: per finding (by kind and cause), and its week."""

    by_finding: dict[tuple[str, str], list[Chart]]
    week: Chart


def draw_pump(brief: Brief, pump: PumpBrief, samples: PumpSamples) -> PumpCharts:
    """Charts of one pump's week."""
    scene = Scene(brief=brief, pump=pump, samples=samples)
    found = [one.finding for one in brief.findings if one.finding.pump_id == pump.pump.pump_id]
    spare = _STRIP_POINTS - _EVIDENCE_POINTS * len(brief.findings)
    n_buckets = max(_LEAST_BUCKETS, spare // (_POINTS_PER_BUCKET * len(brief.pumps)))
    return PumpCharts(
        by_finding={(f.kind, f.cause): evidence(scene, f) for f in found},
        week=week_strip(scene, found, n_buckets),
    )


def charts_in_order(
    brief: Brief, charts: Mapping[str, PumpCharts]
) -> tuple[list[PumpChart], list[PumpChart]]:
    """Put the charts of a site in the order they are shown.

    Returns
    -------
    leads, rest : list of PumpChart
        The one chart of each finding, worst finding first: the pump's week where a finding has no
        chart of its own. Then further ones: before and after each fix, and each pump's week last,
        that of the worst finding's pump before the others. A pump without samples has only those
        of its fixes.
    """
    leads: list[PumpChart] = []
    rest: list[PumpChart] = []
    pump_ids = [one.finding.pump_id for one in brief.findings]
    weeks = dict.fromkeys([*pump_ids, *(pump.pump.pump_id for pump in brief.pumps)])
    for one in brief.findings:
        finding = one.finding
        drawn = charts.get(finding.pump_id)
        made = drawn.by_finding[finding.kind, finding.cause] if drawn else []
        leads += [(finding.pump_id, chart) for chart in made[:1]]
        rest += [(finding.pump_id, chart) for chart in made[1:]]
        if drawn and not made and weeks.pop(finding.pump_id, "") is None:
            leads.append((finding.pump_id, drawn.week))
    rest += [(fix.pump_id, before_and_after(fix, brief.site.units)) for fix in brief.fixes]
    rest += [(pump_id, charts[pump_id].week) for pump_id in weeks if pump_id in charts]
    return leads, rest


def pump_charts(
    con: duckdb.DuckDBPyConnection, briefs: Sequence[Brief]
) -> Iterator[tuple[str, PumpCharts]]:
    """Charts of all pumps of some sites, from one pass over their samples."""
    of_pump = {
        pump.pump.pump_id: (brief, pump)
        for brief in briefs
        for pump in brief.pumps
        if pump.week is not None
    }
    if not of_pump:
        return
    from_at = min(brief.from_at for brief, _ in of_pump.values())
    to_at = max(brief.to_at for brief, _ in of_pump.values())
    for samples in read_samples(con, sorted(of_pump), from_at, to_at):
        brief, pump = of_pump[samples.pump_id]
        within = samples_between(samples, us_of(brief.from_at), us_of(brief.to_at))
        if within.ts_us.size:
            yield samples.pump_id, draw_pump(brief, pump, within)

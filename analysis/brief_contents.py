"""Everything the pre-read of one site shows, as one dataclass, for page and terminal alike.

The order of the fields is the order in which a technician needs them: what is wrong, since when
and how sure; what else it could be; the evidence; what to check; what to load; what to beware
of; nameplate and settings; earlier visits; this site's normal values; what the log cannot tell.
"""

from dataclasses import dataclass
from datetime import datetime

from analysis.advice import Caution
from analysis.brief_facts import Fact, NormalValue
from analysis.brief_visits import VisitLine
from analysis.call_rules import Action
from analysis.findings import Assessment, Finding, Kind, Status
from analysis.fix_weeks import FixWeeks
from analysis.records import OpMapBin, PumpDay, PumpWeek
from ingest.installed_base import Pump, Site
from ingest.weeks import Week


@dataclass(frozen=True, kw_only=True)
class FindingBrief:
    """One finding with all that is done about it.

    Attributes
    ----------
    action : Action
        What the call list asks for where this is the site's worst finding.
    sure_from : str
        Where its confidence comes from: stated grounds, or visits.
    since : str
        Day at the site and how long ago, "Tue 3 Nov, about 3 weeks".
    alternatives : tuple of str
        What else it could be; the detector's own first, then the table's.
    also : tuple of str
        Kinds that are consequences of this finding and not listed apart.
    checks : tuple of str
        In order; the first three are shown first.
    parts : tuple of str
        What to load for it.
    loss, no_loss : str
        Water, energy and money it loses a week; why that is not known. One of them is "".
    """

    finding: Finding
    action: Action
    sure_from: str
    since: str
    alternatives: tuple[str, ...]
    also: tuple[str, ...]
    checks: tuple[str, ...]
    parts: tuple[str, ...]
    loss: str
    no_loss: str


@dataclass(frozen=True, kw_only=True)
class PumpBrief:
    """One pump of the site: its plate, its normal values, and what is known of its week.

    Attributes
    ----------
    week : PumpWeek or None
        None where the pump sent nothing in the week.
    past : tuple of PumpWeek
        Earlier weeks, oldest first.
    days : tuple of PumpDay
        Days of the past weeks and this one, oldest first.
    op_map : tuple of OpMapBin
        Operating maps of the past weeks and this one, oldest first.
    nameplate, settings : tuple of Fact
        Register values in the site's units; a blank is ``None``, to be read on site.
    normal : tuple of NormalValue
        What a meter should show here, this week and in earlier weeks.
    habits : tuple of Fact
        What its past tells: since when it is compared, rhythm, flow, expected current.
    quality : tuple of Fact
        Log interval, share of the week observed, nights observed.
    cannot_tell : tuple of str
        What this log cannot show.
    not_assessed : tuple of Assessment
        Kinds without an answer, with the reason.
    clear : tuple of Kind
        Kinds that were judged and show nothing.
    last_at : datetime or None
        Last sample known, UTC; None where the pump never sent any.
    """

    pump: Pump
    week: PumpWeek | None
    past: tuple[PumpWeek, ...]
    days: tuple[PumpDay, ...]
    op_map: tuple[OpMapBin, ...]
    nameplate: tuple[Fact, ...]
    settings: tuple[Fact, ...]
    normal: tuple[NormalValue, ...]
    habits: tuple[Fact, ...]
    quality: tuple[Fact, ...]
    cannot_tell: tuple[str, ...]
    not_assessed: tuple[Assessment, ...]
    clear: tuple[Kind, ...]
    last_at: datetime | None


@dataclass(frozen=True, kw_only=True)
class Brief:
    """The pre-read of one site for one week.

    Attributes
    ----------
    standing : Status
        ``found`` before ``no_data`` before ``not_assessed`` before ``shut_down``; ``clear`` only
        where every pump was heard from and at least one kind of each was judged.
    headline : str
        One sentence: what is wrong, or why nothing is said to be.
    also_know : tuple of str
        What must stand beside it: pumps of the site that were not heard from, and pumps without
        a finding that are unlike their peers.
    findings : tuple of FindingBrief
        Worst first, by the call list's own rules.
    bring : tuple of str
        What to load for the findings, each once.
    always_bring : tuple of str
        What belongs on the truck anyway.
    fixes : tuple of FixWeeks
        Fixes of the last quarter with the weeks before and after, the latest first.
    """

    site: Site
    week: Week
    from_at: datetime
    to_at: datetime
    standing: Status
    headline: str
    also_know: tuple[str, ...]
    findings: tuple[FindingBrief, ...]
    bring: tuple[str, ...]
    always_bring: tuple[str, ...]
    cautions: tuple[Caution, ...]
    pumps: tuple[PumpBrief, ...]
    visits: tuple[VisitLine, ...]
    fixes: tuple[FixWeeks, ...]

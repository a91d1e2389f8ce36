"""What recurs in the fleet: findings of a week beside the pumps that could have shown them.

A count alone shows which model sold best. So each count stands beside the pumps observed for its
kind (judged: found or clear), as a rate per 100 of them with its exact Poisson interval; where a
few pumps or findings are all there is, the answer is "too few to say". Model, installer and
region are entangled (one installer fits one model in one valley): a group *goes together with*
a kind, nothing here says that it causes it.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from analysis.findings import Assessment, Finding, Kind, Status
from analysis.intervals import poisson_limits
from analysis.limits import Limit
from ingest.installed_base import Pump, Register

MIN_PUMPS = Limit(5, "pumps observed", "common practice: fewer say nothing about a group")
MIN_FINDINGS = Limit(3, "pumps with the finding", "common practice: one or two may be chance")
MIN_REST_PUMPS = Limit(5, "pumps outside the group", "ours: a comparison needs a rest of fleet")
CHANCE_MAX = Limit(0.005, "chance, one-sided", "ours: many groups are compared, so 1 in 100 each")

NOT_REGISTERED = "not in the register"

GROUPINGS: Mapping[str, str] = {
    "pump_model": "pump model",
    "motor_model": "motor model",
    "installer": "installer",
    "region": "region",
}
"""What pumps are grouped by: register column, and how a page names it."""


@dataclass(frozen=True, kw_only=True)
class Rate:
    """Pumps with a finding among pumps observed, and what that is worth.

    Attributes
    ----------
    n_found, n_observed : int
        Pumps with the finding; pumps for which its kind could be judged.
    n_findings : int
        Findings, where a pump may have several (settings).
    per_100, low_per_100, high_per_100 : float or None
        Pumps with the finding per 100 observed and the 95 % limits of that; None where no pump
        was observed. A pump counts once, so an upper limit past 100 is 100.
    is_too_few : bool
        Under ``MIN_PUMPS`` pumps or ``MIN_FINDINGS`` pumps with the finding.
    """

    n_found: int
    n_observed: int
    n_findings: int
    per_100: float | None
    low_per_100: float | None
    high_per_100: float | None
    is_too_few: bool


@dataclass(frozen=True, kw_only=True)
class KindRate:
    """One kind over the whole fleet, with its causes, the most frequent first."""

    kind: Kind
    rate: Rate
    causes: tuple[tuple[str, int], ...]
    n_not_judged: int


@dataclass(frozen=True, kw_only=True)
class GroupRate:
    """One kind in one group of pumps, beside the rest of the fleet.

    ``verdict`` is a plain clause: "too few to say", "goes together with more of it",
    "goes together with less of it", or "no clear difference".
    """

    kind: Kind
    grouping: str
    group: str
    rate: Rate
    rest: Rate
    verdict: str


@dataclass(frozen=True, kw_only=True)
class Recurrence:
    """What recurs in one week: by kind, and by kind and group.

    ``groups`` holds only groups with at least one finding of the kind, by kind, grouping and
    then from the highest rate down.
    """

    week: str
    n_pumps: int
    kinds: tuple[KindRate, ...]
    groups: tuple[GroupRate, ...]


def recurrence(
    week: str,
    findings: Iterable[Finding],
    assessments: Iterable[Assessment],
    register: Register,
) -> Recurrence:
    """Count one week's findings per 100 pumps observed, by kind and by group."""
    counted = [f for f in findings if f.pump_id in register.pumps]
    judged: dict[Kind, set[str]] = {}
    asked: dict[Kind, set[str]] = {}
    for answer in assessments:
        if answer.pump_id in register.pumps:
            asked.setdefault(answer.kind, set()).add(answer.pump_id)
            if answer.status in (Status.FOUND, Status.CLEAR):
                judged.setdefault(answer.kind, set()).add(answer.pump_id)
    kinds, groups = [], []
    for kind in Kind:
        observed = judged.get(kind, set())
        of_kind = [f for f in counted if f.kind == kind and f.pump_id in observed]
        causes = Counter(f.cause for f in of_kind)
        kinds.append(
            KindRate(
                kind=kind,
                rate=_rate(observed, of_kind),
                causes=tuple(sorted(causes.items(), key=lambda item: (-item[1], item[0]))),
                n_not_judged=len(asked.get(kind, set()) - observed),
            )
        )
        for grouping in GROUPINGS:
            groups.extend(_group_rates(kind, grouping, observed, of_kind, register))
    return Recurrence(
        week=week, n_pumps=len(register.pumps), kinds=tuple(kinds), groups=tuple(groups)
    )


def _group_rates(
    kind: Kind, grouping: str, observed: set[str], of_kind: list[Finding], register: Register
) -> list[GroupRate]:
    """Rates of the groups that show the kind, each beside the rest of the fleet."""
    group_of = _group_reader(grouping, register)
    groups: dict[str, set[str]] = {}
    for pump_id in observed:
        groups.setdefault(group_of(register.pumps[pump_id]), set()).add(pump_id)
    if len(groups) == 1 and NOT_REGISTERED in groups:
        return []
    rates = []
    for group in sorted({group_of(register.pumps[f.pump_id]) for f in of_kind}):
        inside = groups[group]
        rate = _rate(inside, [f for f in of_kind if f.pump_id in inside])
        rest = _rate(observed - inside, [f for f in of_kind if f.pump_id not in inside])
        rates.append(
            GroupRate(
                kind=kind,
                grouping=grouping,
                group=group,
                rate=rate,
                rest=rest,
                verdict=_verdict(rate, rest),
            )
        )
    return sorted(rates, key=lambda each: (-(each.rate.per_100 or 0.0), each.group))


def _group_reader(grouping: str, register: Register) -> Callable[[Pump], str]:
    """Return what tells a pump's group: its own column or its site's."""
    if grouping in ("installer", "region"):

        def of_site(pump: Pump) -> str:
            site = register.sites.get(pump.site_id)
            return getattr(site, grouping, None) or NOT_REGISTERED

        return of_site
    return lambda pump: getattr(pump, grouping) or NOT_REGISTERED


def _rate(observed: set[str], findings: list[Finding]) -> Rate:
    n_found = len({f.pump_id for f in findings})
    n_observed = len(observed)
    per_100 = low = high = None
    if n_observed:
        limits = poisson_limits(n_found, n_observed / 100.0)
        per_100 = 100.0 * n_found / n_observed
        low, high = float(limits[0]), min(100.0, float(limits[1]))
    return Rate(
        n_found=n_found,
        n_observed=n_observed,
        n_findings=len(findings),
        per_100=per_100,
        low_per_100=low,
        high_per_100=high,
        is_too_few=n_observed < MIN_PUMPS.value or n_found < MIN_FINDINGS.value,
    )


def _verdict(rate: Rate, rest: Rate) -> str:
    """Compare a group with all other pumps by the exact conditional test of two rates."""
    if rate.is_too_few or rest.n_observed < MIN_REST_PUMPS.value:
        return "too few to say"
    chance_more, chance_less = chance_tails(rate, rest)
    if chance_more < CHANCE_MAX.value:
        return "goes together with more of it"
    if chance_less < CHANCE_MAX.value:
        return "goes together with less of it"
    return "no clear difference"


def chance_tails(rate: Rate, rest: Rate) -> tuple[float, float]:
    """Chance of a group's count, or one further out, if its rate were that of the others.

    Given the sum of two Poisson counts, the first is binomial with its share of the exposure
    [1]_.

    Returns
    -------
    more, less : float
        Chance of so many or more, and of so few or fewer, 0 to 1.

    References
    ----------
    .. [1] J. Przyborowski, H. Wilenski, "Homogeneity of results in testing samples from Poisson
       series", Biometrika 31, 1940.
    """
    from scipy.special import bdtr, bdtrc

    n_all = rate.n_found + rest.n_found
    share = rate.n_observed / (rate.n_observed + rest.n_observed)
    more = 1.0 if rate.n_found == 0 else float(bdtrc(rate.n_found - 1, n_all, share))
    return more, float(bdtr(rate.n_found, n_all, share))

"""Findings of a site that have one root, told together: the worst leads, the others stand in it.

A consequence past a limit of its own has its own checks, but is no second fault to drive for.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain

from analysis.brief_contents import FindingBrief

BEHIND, FOLLOWS = "Behind it", "It leads to"


@dataclass(frozen=True, kw_only=True)
class Member:
    """A finding beside the one that leads, with how it stands to it: behind it, or after it."""

    tie: str
    found: FindingBrief


@dataclass(frozen=True, kw_only=True)
class FindingGroup:
    """Findings of one root.

    Attributes
    ----------
    lead : FindingBrief
        The worst of them.
    members : tuple of Member
        The others, in the order of the site's findings.
    alternatives : tuple of str
        What else it could be, of all of them, each once.
    also : tuple of str
        Kinds that are consequences and have no place of their own.
    """

    lead: FindingBrief
    members: tuple[Member, ...]
    alternatives: tuple[str, ...]
    also: tuple[str, ...]

    @property
    def findings(self) -> tuple[FindingBrief, ...]:
        """All of them, the worst first."""
        return (self.lead, *(member.found for member in self.members))


def grouped(findings: Sequence[FindingBrief]) -> tuple[FindingGroup, ...]:
    """Findings by root, in the order of the worst of each.

    Parameters
    ----------
    findings : sequence of FindingBrief
        Of one site, worst first.
    """
    groups: list[list[FindingBrief]] = []
    for one in findings:
        of = next((group for group in groups if any(_is_tied(one, each) for each in group)), None)
        if of is None:
            groups.append([one])
        else:
            of.append(one)
    return tuple(_group(group) for group in groups)


def _group(found: Sequence[FindingBrief]) -> FindingGroup:
    lead, *others = found
    members = tuple(
        Member(tie=FOLLOWS if _explains(lead, other) else BEHIND, found=other) for other in others
    )
    named = {other.finding.kind for other in found}
    return FindingGroup(
        lead=lead,
        members=members,
        alternatives=tuple(dict.fromkeys(chain(*(one.alternatives for one in found)))),
        also=tuple(dict.fromkeys(kind for one in found for kind in one.also if kind not in named)),
    )


def _is_tied(one: FindingBrief, other: FindingBrief) -> bool:
    return _explains(one, other) or _explains(other, one)


def _explains(root: FindingBrief, symptom: FindingBrief) -> bool:
    return (
        root.finding.pump_id == symptom.finding.pump_id
        and symptom.finding.measures.get("explained_by") == root.finding.kind
    )

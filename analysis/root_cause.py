"""One root, one finding: what another finding explains is nested in it instead of standing beside.

Three findings for one tank cost a dispatcher's trust. A consequence that passes a limit of its
own and asks for another first action keeps its place, and then each names the other.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from analysis.findings import Judged, Kind, MeasureValue

_STORAGE_SETTINGS = ("ramp", "tank")
_STORAGE_CAUSES = ("tank_charge_lost", "low_demand")


@dataclass(frozen=True)
class _Tie:
    """A finding that another one explains."""

    root: int
    symptom: int
    reason: str
    is_dropped: bool


def nest(found: Sequence[Judged]) -> tuple[Judged, ...]:
    """Keep one finding per root, with what it explains named in it.

    Parameters
    ----------
    found : sequence of Judged
        All findings of one pump and week.

    Returns
    -------
    tuple of Judged
        In the order given. A root has ``measures["also"]``, the kinds it explains, sorted, and
        ``measures["also_because"]``, one reason each. What rests on a register figure that the
        log contradicts is held back earlier, by its own detector, which can say why.
    """
    ties = _ties(found)
    dropped = {tie.symptom for tie in ties if tie.is_dropped}
    return tuple(
        _with_symptoms(judged, found, [tie for tie in ties if tie.root == at])
        for at, judged in enumerate(found)
        if at not in dropped
    )


def _ties(found: Sequence[Judged]) -> list[_Tie]:
    ties = []
    for at, judged in enumerate(found):
        if judged.kind is Kind.SHORT_CYCLING:
            ties += _ties_of_cycling(found, at, judged)
    return ties


def _ties_of_cycling(found: Sequence[Judged], at: int, cycling: Judged) -> list[_Tie]:
    ties = []
    for other_at, other in enumerate(found):
        if other.kind is Kind.LEAK and cycling.cause in ("leak", ""):
            ties.append(
                _Tie(
                    root=other_at,
                    symptom=at,
                    reason="the leak empties the tank again and again, and each time it starts",
                    is_dropped=cycling.measures.get("is_over_fixed_limit") is not True,
                )
            )
        if _is_storage_setting(other) and cycling.cause in _STORAGE_CAUSES:
            ties.append(
                _Tie(
                    root=at,
                    symptom=other_at,
                    reason="ramp and tank size matter here through the starts they cause",
                    is_dropped=cycling.cause == "tank_charge_lost",  # else it is what to change
                )
            )
    return ties


def _is_storage_setting(judged: Judged) -> bool:
    return judged.kind is Kind.SETTING and judged.cause in _STORAGE_SETTINGS


def _with_symptoms(judged: Judged, found: Sequence[Judged], ties: Sequence[_Tie]) -> Judged:
    more: dict[str, MeasureValue] = {}
    alternatives = judged.alternatives
    if ties:
        reasons = {found[tie.symptom].kind.value: tie.reason for tie in ties}
        more["also"] = [*sorted(reasons)]
        more["also_because"] = [reasons[kind] for kind in sorted(reasons)]
    if judged.kind is Kind.LEAK and _tank_is_in_doubt(found):
        more["leak_is_upper_bound"] = True
        alternatives = (
            "The tank may have lost its charge: the leak is then smaller than these litres",
            *alternatives,
        )
    if not more:
        return judged
    return replace(judged, measures={**judged.measures, **more}, alternatives=alternatives)


def _tank_is_in_doubt(found: Sequence[Judged]) -> bool:
    return any(
        judged.kind is Kind.SHORT_CYCLING and judged.cause in ("tank_charge_lost", "")
        for judged in found
    )

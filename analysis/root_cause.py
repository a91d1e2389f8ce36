"""One root, one finding: what another finding explains is nested in it instead of standing beside.

Three findings for one tank cost a dispatcher's trust. A consequence that passes a limit of its
own and asks for another first action keeps its place, and then each names the other.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from analysis.findings import Judged, Kind, MeasureValue
from analysis.limits import MARGIN_HEALTHY_PCT, MARGIN_THIN_PCT

_STORAGE_SETTINGS = ("ramp", "tank")
_STORAGE_CAUSES = ("tank_charge_lost", "low_demand")
_RESTS_ON: Mapping[str, tuple[str, ...]] = {
    "pressure_kpa": ("short_cycling", "leak", "weak_delivery", "hunting"),
    "frequency_hz": ("short_cycling", "leak", "weak_delivery", "dry_running", "hunting"),
    "current_a": ("overload_margin", "dry_running"),
    "voltage_v": ("undervoltage",),
    "drive_temp_c": ("overheating",),
}
"""Kinds that cannot be judged without a channel, by the channel."""
_READINGS = {
    "pressure_kpa": "pressure",
    "frequency_hz": "frequency",
    "current_a": "motor current",
    "voltage_v": "supply volts",
    "drive_temp_c": "controller temperature",
}


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
        ``measures["also_because"]``, one reason each; a consequence that keeps its place has
        ``measures["explained_by"]``, the kind of its root. What rests on a register figure that
        the log contradicts is held back earlier, by its own detector, which can say why.
    """
    ties = _ties(found)
    dropped = {tie.symptom for tie in ties if tie.is_dropped}
    return tuple(
        _with_ties(
            judged,
            found,
            [tie for tie in ties if tie.root == at],
            [found[tie.root].kind.value for tie in ties if tie.symptom == at],
        )
        for at, judged in enumerate(found)
        if at not in dropped
    )


def _ties(found: Sequence[Judged]) -> list[_Tie]:
    ties = []
    for at, judged in enumerate(found):
        if judged.kind is Kind.SHORT_CYCLING:
            ties += _ties_of_cycling(found, at, judged)
        explains = _EXPLAINS.get(judged.kind)
        if explains is not None:
            ties += [
                _Tie(root=at, symptom=other_at, reason=reason, is_dropped=is_dropped)
                for other_at, other in enumerate(found)
                for reason, is_dropped in explains(judged, other)
            ]
    return _by_last_root(ties)


def _by_last_root(ties: Sequence[_Tie]) -> list[_Tie]:
    """Ties whose root itself is kept, so that nothing is nested in what is nested."""
    dropped = {tie.symptom for tie in ties if tie.is_dropped}
    return [tie for tie in ties if tie.root not in dropped]


def held_back(found: Sequence[Judged]) -> dict[Kind, str]:
    """Kinds that rest on a reading which a finding says cannot be believed, and why.

    For them "clear" would be no answer.
    """
    known = {kind.value for kind in Kind}
    reasons = {}
    for judged in found:
        for channel in _bad_readings(judged):
            for kind in _RESTS_ON.get(channel, ()):
                if kind in known:
                    reasons[Kind(kind)] = f"rests on the {_READINGS[channel]}, a reading at fault"
    return reasons


def _bad_readings(judged: Judged) -> list[str]:
    """Channels that a sensor fault rules out; an offset leaves a reading usable."""
    if judged.kind is not Kind.SENSOR_FAULT or judged.cause == "offset":
        return []
    channels = judged.measures.get("channels")
    return [str(channel) for channel in channels] if isinstance(channels, list) else []


def _of_sensor(root: Judged, other: Judged) -> list[tuple[str, bool]]:
    return [
        (f"it rests on the {_READINGS[channel]}, a reading at fault", True)
        for channel in _bad_readings(root)
        if other.kind.value in _RESTS_ON.get(channel, ())
    ][:1]


def _of_undervoltage(root: Judged, other: Judged) -> list[tuple[str, bool]]:
    if other.kind is Kind.WEAK_DELIVERY and other.cause == "low_voltage":
        return [("at low volts the motor cannot make its pressure at top speed", True)]
    return _of_what_came_before(root, other)


def _of_dry_running(root: Judged, other: Judged) -> list[tuple[str, bool]]:
    if other.kind is Kind.WEAK_DELIVERY and other.cause != "low_voltage":
        return [("a pump without water makes no pressure", True)]
    if other.kind is Kind.LEAK:
        return [("it is its protection that tries again and again, day and night", True)]
    if other.kind is Kind.SENSOR_FAULT and other.cause == "offset":
        return [("its stops are those of a dry pump", True)]
    if other.kind is Kind.SHORT_CYCLING and other.cause in ("low_demand", ""):
        over = other.measures.get("is_over_fixed_limit") is True
        return [("its protection stops it and tries again", not over)]
    return _of_what_came_before(root, other)


def _of_weak_delivery(root: Judged, other: Judged) -> list[tuple[str, bool]]:
    if other.kind is Kind.SETTING and other.cause == "pressure_setting":
        return [("the setting is out of reach because of it", True)]
    if other.kind is Kind.SENSOR_FAULT and other.cause == "offset":
        return [("the same change of speed at no flow", True)]
    never_days = root.measures.get("never_days")
    if other.kind is Kind.LEAK and isinstance(never_days, int) and never_days > 0:
        return [("a pump that never reaches its setting never stops", True)]
    if other.kind is Kind.OVERLOAD_MARGIN and _comes_of_speed(other):
        return [("it makes up with speed, and speed takes current", True)]
    return []


def _comes_of_speed(thin: Judged) -> bool:
    """Whether a margin still fair shrank while current at like speed and pressure surely fell."""
    is_fair = _number(thin, "overload_margin_pct") >= MARGIN_THIN_PCT.value
    return is_fair and _number(thin, "drift_high_pct_per_week") < 0.0


def _of_hunting(root: Judged, other: Judged) -> list[tuple[str, bool]]:
    if other.kind is Kind.SETTING and other.cause == "ramp" and root.cause:
        return [("the ramp matters here through the swings it causes", True)]
    return []


def _of_overheating(root: Judged, other: Judged) -> list[tuple[str, bool]]:
    """A drive that folds back holds speed and current down; its motor has margin left."""
    if root.measures.get("folds_back") is not True:
        return _of_what_came_before(root, other)
    if other.kind is Kind.WEAK_DELIVERY and other.cause != "low_voltage":
        return [("the hot drive holds its speed down", True)]
    has_margin = _number(other, "overload_margin_pct") >= MARGIN_HEALTHY_PCT.value
    if other.kind is Kind.OVERLOAD_MARGIN and other.cause != "rising_load" and has_margin:
        return [("the hot drive holds speed and current down; the motor has margin left", True)]
    return _of_what_came_before(root, other)


def _number(judged: Judged, name: str) -> float:
    value = judged.measures.get(name)
    return float(value) if isinstance(value, int | float) else float("nan")


_TRIPS_AFTER: Mapping[Kind, tuple[str, str]] = {
    Kind.OVERLOAD_MARGIN: ("current", "the motor runs so near its limit that it trips"),
    Kind.UNDERVOLTAGE: ("voltage", "the controller trips on the low volts"),
    Kind.DRY_RUNNING: ("pressure", "the controller stops the pump that runs dry"),
    Kind.OVERHEATING: ("heat", "the controller trips on its own heat"),
}
"""By the root: what came before the trips that it explains, and how."""


def _of_what_came_before(root: Judged, other: Judged) -> list[tuple[str, bool]]:
    """Trips belong to what came before them; a pump that stays out keeps its own place.

    An overload trip stands beside a thin margin: each has its own limit and first action.
    """
    before, reason = _TRIPS_AFTER[root.kind]
    if other.kind is not Kind.CONTROLLER_TRIP or other.measures.get("before") != before:
        return []
    stays_out = other.measures.get("is_latched") is True
    return [(reason, root.kind is not Kind.OVERLOAD_MARGIN and not stays_out)]


_EXPLAINS: Mapping[Kind, Callable[[Judged, Judged], list[tuple[str, bool]]]] = {
    Kind.SENSOR_FAULT: _of_sensor,
    Kind.UNDERVOLTAGE: _of_undervoltage,
    Kind.DRY_RUNNING: _of_dry_running,
    Kind.WEAK_DELIVERY: _of_weak_delivery,
    Kind.HUNTING: _of_hunting,
    Kind.OVERHEATING: _of_overheating,
    Kind.OVERLOAD_MARGIN: _of_what_came_before,
}
"""What a root explains of another finding: reasons, each with whether the other is nested."""


def _ties_of_cycling(found: Sequence[Judged], at: int, cycling: Judged) -> list[_Tie]:
    ties = []
    for other_at, other in enumerate(found):
        if other.kind is Kind.HUNTING and cycling.cause == "tank_charge_lost":
            ties.append(
                _Tie(
                    root=at,
                    symptom=other_at,
                    reason="without its cushion of gas the control overshoots both ways",
                    is_dropped=True,
                )
            )
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


def _with_ties(
    judged: Judged, found: Sequence[Judged], ties: Sequence[_Tie], roots: Sequence[str]
) -> Judged:
    more: dict[str, MeasureValue] = {}
    alternatives = judged.alternatives
    if ties:
        reasons = {found[tie.symptom].kind.value: tie.reason for tie in ties}
        more["also"] = [*sorted(reasons)]
        more["also_because"] = [reasons[kind] for kind in sorted(reasons)]
    if roots:
        more["explained_by"] = roots[0]
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

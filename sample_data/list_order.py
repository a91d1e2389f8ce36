"""How well the call list's order agrees with the truth: average precision by consequence.

What a fault may lead to is the truth's own here, set down beside its kind and size without a look
at what the program makes of it. The scale is that of the trade: 5 no water now, fire or burst; 4
damage within days; 3 damage within months or poor service; 2 money or wear; 1 housekeeping.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from sample_data.score import Row, Score, is_active, read_rows

CONSEQUENCE: Mapping[tuple[str, str], tuple[int, int]] = {
    ("dry_running", ""): (5, 5),
    ("controller_trip", ""): (4, 5),
    ("undervoltage", "supply_wiring"): (3, 5),
    ("undervoltage", "supply_source"): (2, 3),
    ("sensor_fault", "stuck"): (2, 5),
    ("sensor_fault", "out_of_range"): (1, 4),
    ("sensor_fault", "offset"): (2, 2),
    ("short_cycling", ""): (3, 4),
    ("overload_margin", ""): (2, 4),
    ("weak_delivery", "wrong_rotation"): (4, 4),
    ("weak_delivery", ""): (3, 3),
    ("overheating", ""): (3, 3),
    ("leak", ""): (2, 3),
    ("hunting", ""): (2, 2),
    ("setting", "overload_setting_amps"): (1, 4),
    ("setting", ""): (1, 1),
    ("data_gap", ""): (1, 1),
}
"""Consequence of a mild and of a strong fault, by kind and cause; "" for any other cause."""


@dataclass(frozen=True)
class ListOrder:
    """How a call list agrees with the truth, 1 at best; None without a fault.

    Attributes
    ----------
    weighted : float or None
        Faults before what is none, each by its consequence.
    graded : float or None
        Also the worst first.
    """

    weighted: float | None
    graded: float | None


def read_list_order(folder: Path, result: Score, pages: str = "pages") -> ListOrder:
    """Compare the call list below a scored folder with its truth, for the kinds scored."""
    kinds = {kind.kind for kind in result.kinds}
    truth = read_rows(folder / "truth.csv")
    gains = site_gains(r for r in truth if r["kind"] in kinds and is_active(r, result.week))
    ranked = [row["site_id"] for row in read_rows(folder / pages / "calls.csv")]
    return ListOrder(
        weighted_average_precision(ranked, gains), graded_average_precision(ranked, gains)
    )


def consequence(fault: Row) -> int:
    """What a fault may lead to, 1 to 5; a kind without an entry counts as housekeeping."""
    of_kind = CONSEQUENCE.get((fault["kind"], ""), (1, 1))
    mild, strong = CONSEQUENCE.get((fault["kind"], fault["cause"]), of_kind)
    return strong if fault["size"] == "strong" else mild


def site_gains(active: Iterable[Row]) -> dict[str, int]:
    """Worst consequence at each site that has a fault."""
    gains: dict[str, int] = {}
    for fault in active:
        site = fault["site_id"]
        gains[site] = max(gains.get(site, 0), consequence(fault))
    return gains


def weighted_average_precision(ranked: Sequence[str], gains: Mapping[str, int]) -> float | None:
    """Average precision in which a site counts by its consequence, a site without a fault once.

    ``sum (R_n - R_(n-1)) P_n`` over the ranks, precision and recall of weights: scikit-learn's
    ``average_precision_score`` with ``sample_weight``. ``None`` without a fault anywhere.

    Parameters
    ----------
    ranked : sequence of str
        Sites of the list, the first to call first; sites with a fault that it lacks are misses.
    gains : mapping
        Consequence by site, of sites with a fault.
    """
    whole = sum(gains.values())
    if not whole:
        return None
    right = weight = total = 0.0
    for site in ranked:
        gain = gains.get(site, 0)
        right += gain
        weight += gain or 1
        total += gain * right / weight
    return total / whole


def graded_average_precision(ranked: Sequence[str], gains: Mapping[str, int]) -> float | None:
    """Average precision of graded truth: 1 only where the worst sites stand first, in order.

    ``sum I(x_i) mean(x_1..x_i)`` over the same sum of the best possible order, with ``x_i`` the
    consequence of the site at rank ``i`` and 0 without a fault. For a truth of 0 and 1 it is the
    plain average precision. Kishida 2005, "Property of average precision and its
    generalization", NII technical report 2005-014E. ``None`` without a fault anywhere.

    Parameters
    ----------
    ranked, gains
        As for `weighted_average_precision`.
    """
    best = _graded_sum(sorted(gains.values(), reverse=True))
    return _graded_sum([gains.get(site, 0) for site in ranked]) / best if best else None


def _graded_sum(values: Sequence[int]) -> float:
    total = so_far = 0.0
    for rank, value in enumerate(values, start=1):
        so_far += value
        total += so_far / rank if value else 0.0
    return total

"""The same pumps compared with themselves: is it more than before, beyond the season."""

from dataclasses import dataclass

from analysis.reliability.rates import chance_tails


@dataclass(frozen=True, kw_only=True)
class Halves:
    """Events and pump-weeks of one set of pumps in the earlier and the later half of a span."""

    early: int
    early_weeks: float
    late: int
    late_weeks: float

    @property
    def ratio(self) -> float | None:
        """Later rate over earlier; None where the earlier half had no event or no week."""
        if self.early == 0 or self.early_weeks <= 0.0 or self.late_weeks <= 0.0:
            return None
        return (self.late / self.late_weeks) / (self.early / self.early_weeks)


def chance_of_change(halves: Halves) -> tuple[float, float]:
    """Chance that a steady rate looks so much worse, or so much better, in the later half.

    The exact conditional test of two Poisson counts; 1 and 1 where a half was not watched.
    """
    if halves.early_weeks <= 0.0 or halves.late_weeks <= 0.0:
        return 1.0, 1.0
    return chance_tails(halves.late, halves.late_weeks, halves.early, halves.early_weeks)


def chance_beyond(halves: Halves, reference: Halves) -> tuple[float, float]:
    """Chance of the change if it were that of the reference: last year, or the other pumps.

    Given both totals and the total of the later halves, the later count of the first follows
    Fisher's noncentral hypergeometric distribution with the odds of the exposures [1]_, so the
    level of either, and a change both share, cancel out.

    Returns
    -------
    worse, better : float
        0 to 1; 1 and 1 where a half was not watched or nothing happened in one of them.

    References
    ----------
    .. [1] A. Agresti, Categorical Data Analysis, on exact inference for an odds ratio.
    """
    from scipy.stats import nchypergeom_fisher

    weeks = (
        halves.early_weeks,
        halves.late_weeks,
        reference.early_weeks,
        reference.late_weeks,
    )
    n_own = halves.early + halves.late
    n_other = reference.early + reference.late
    n_late = halves.late + reference.late
    if min(weeks) <= 0.0 or n_own == 0 or n_other == 0:
        return 1.0, 1.0
    odds = (weeks[1] / weeks[0]) / (weeks[3] / weeks[2])
    spread = nchypergeom_fisher(n_own + n_other, n_own, n_late, odds)
    return (
        float(min(1.0, spread.sf(halves.late - 1))),
        float(min(1.0, spread.cdf(halves.late))),
    )

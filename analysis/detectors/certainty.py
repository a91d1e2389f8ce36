"""How sure a finding is: a starting confidence moved by stated grounds."""

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.limits import CONFIDENCE_CEILING, CONFIDENCE_FLOOR, Limit


@dataclass(frozen=True)
class Level:
    """How bad a week is (``consequence``), by which limit, and how sure that alone makes it."""

    consequence: int
    limit: Limit
    start_confidence: float


@dataclass(frozen=True)
class Ground:
    """One reason to be more (``weight`` > 0) or less sure, told only where it holds."""

    holds: bool
    weight: float
    text: str


def weigh(start: float, grounds: Sequence[Ground]) -> tuple[float, tuple[str, ...]]:
    """Confidence and the sentences behind it.

    Weights simply add; they are judgement, not probabilities, and the result is kept between
    ``CONFIDENCE_FLOOR`` and ``CONFIDENCE_CEILING`` because a log never proves nor excludes.

    The starting values were held against invented fleets (seeds 101 to 110 of
    ``sample_data.trials``), in which findings from a direct observation (a reading that stands
    still through starts, a pump without its load's current, volts under a limit) were always
    right: these start at 0.6 to 0.9. They stay below what those fleets alone would allow, as no
    invented fleet holds every look-alike; what has a look-alike that a log cannot tell (a well's
    level for a sensor's offset, a single sample) starts lower.

    Returns
    -------
    confidence : float
        0 to 1, two decimals.
    texts : tuple of str
        Sentences of the grounds that hold, in the order given.
    """
    told = [ground for ground in grounds if ground.holds]
    sure = start + sum(ground.weight for ground in told)
    kept = min(CONFIDENCE_CEILING.value, max(CONFIDENCE_FLOOR.value, sure))
    return round(kept, 2), tuple(ground.text for ground in told)

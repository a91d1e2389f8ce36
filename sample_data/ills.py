"""What can ail an invented pump set besides leaks, tank, wire and drag: one record per ill.

All times are seconds since the first local midnight of the log.
"""

from dataclasses import dataclass

RECOVERED = 0.7  # of the draw-down at which a well that ran dry gives water again: ours


@dataclass(frozen=True)
class Well:
    """A well that gives less than is asked of it.

    Draw-down settles at ``rise_m_per_lpm`` times the flow with time constant ``recovery_s``; at
    ``intake_m`` the pump draws air until the level has come back to ``RECOVERED`` of that.
    """

    from_s: float
    rise_m_per_lpm: float
    recovery_s: float
    intake_m: float


@dataclass(frozen=True)
class PumpEnd:
    """A pump end that is not as published: at the start and at the end of a time.

    ``head`` is the share of shut-off head left, ``bend`` the loss per square of flow over the
    published one, ``torque`` the share of shaft torque. Between start and end they change evenly.
    """

    from_s: float
    to_s: float
    head: tuple[float, float] = (1.0, 1.0)
    bend: tuple[float, float] = (1.0, 1.0)
    torque: tuple[float, float] = (1.0, 1.0)


@dataclass(frozen=True)
class Gulps:
    """Short losses of suction, ``count`` of them for ``lasts_s`` within long draws."""

    from_s: float
    to_s: float
    count: int
    lasts_s: float


@dataclass(frozen=True)
class Trips:
    """Trips out of long draws, for no reason in the log; an endless ``wait_s`` latches."""

    from_s: float
    to_s: float
    count: int
    code: int
    wait_s: float


@dataclass(frozen=True)
class LowVoltsTrip:
    """The drive stops below ``share`` of nominal volts and restarts ``wait_s`` after it."""

    share: float
    wait_s: float
    code: int


@dataclass(frozen=True)
class Heating:
    """A drive that cools badly: its rise over the air at full load, at start and end [C]."""

    from_s: float
    to_s: float
    rise_c: tuple[float, float]


@dataclass(frozen=True)
class Hunting:
    """A pressure loop that swings about the setting while water runs [kPa, s]."""

    from_s: float
    to_s: float
    swing_kpa: float
    period_s: float


@dataclass(frozen=True)
class SensorIll:
    """A channel that does not tell what is.

    Attributes
    ----------
    channel : str
        ``pressure``, ``current``, ``voltage``, ``suction`` or ``temp``.
    how : str
        ``frozen`` at ``value``; ``offset`` by it; ``sentinel`` shown for minutes now and then;
        ``air``: swings of so much while the pump runs; ``fahrenheit`` under a Celsius heading.
    value : float
        In the inner unit, for a sentinel of pressure in the unit of the log.
    share : float
        Of the time that a sentinel shows.
    """

    channel: str
    from_s: float
    to_s: float
    how: str
    value: float = 0.0
    share: float = 0.0

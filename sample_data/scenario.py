"""What a scenario is: one invented pump, what is built into it, and what may be said of it."""

from dataclasses import dataclass

SINCE_BEFORE: float | None = None  # there since before the first logged week


@dataclass(frozen=True)
class Built:
    """One effect built into a pump, and the truth it makes.

    Attributes
    ----------
    effect : str
        Name in ``faults.EFFECTS``.
    kind, cause, size : str
        What it is; a blank kind for what is no fault.
    days_before_end : float or None
        Local days before the end of the last week on which it begins; ``None``: before the log.
    hour : float
        Local hour of that day. [h]
    jitter_days : int
        The seed moves the beginning by up to so many days either way.
    lasts_days : float or None
        How long it lasts; ``None``: to the end.
    also : str
        What may be reported besides, as in ``truth.csv``.
    """

    effect: str
    kind: str = ""
    cause: str = ""
    size: str = ""
    days_before_end: float | None = SINCE_BEFORE
    hour: float = 0.0
    jitter_days: int = 0
    lasts_days: float | None = None
    also: str = ""


@dataclass(frozen=True)
class Scenario:
    """One invented pump.

    Attributes
    ----------
    name : str
        As in ``truth.csv``.
    profile : str
        Who draws water (``demand.PROFILES``).
    built : tuple of Built
        Faults and oddities.
    extras : tuple of str
        Odd habits (``demand.EXTRAS``).
    tanks_gal : tuple of float
        The seed picks one. [gal]
    models : tuple of str
        The seed picks one; empty: one that suits profile and place.
    intervals : tuple of (weeks before the end, s)
        Log interval from then on; empty: the seed picks.
    place : str
        ``us``, ``eu``, ``dry`` (no clock changes) or ``mill`` (the region with the weak line).
    supply_volts, motor_volts : int
        0: by place.
    site : str
        Pumps of one named site stand together; ``alone`` shares with none; blank: as it falls.
    traits : tuple of str
        How it is logged: ``averaged``, ``doubled``, ``duplex_a``, ``duplex_b``, ``flow``,
        ``suction``, ``input``, ``temp``, ``code``, ``coarse`` (whole psi).
    visit : (str, str) or None
        What a visit found and did on the day on which the first effect begins.
    also : str
        What may be reported besides, as in ``truth.csv``.
    note : str
        For whoever reads ``truth.csv``.
    """

    name: str
    profile: str = "home"
    built: tuple[Built, ...] = ()
    extras: tuple[str, ...] = ()
    tanks_gal: tuple[float, ...] = (14.0, 20.0, 26.0)
    models: tuple[str, ...] = ()
    intervals: tuple[tuple[float, float], ...] = ()
    place: str = "us"
    supply_volts: int = 0
    motor_volts: int = 0
    site: str = ""
    traits: tuple[str, ...] = ()
    use_factor: float = 1.0
    level_share: float = 0.0
    visit: tuple[str, str] | None = None
    also: str = ""
    note: str = ""

    @property
    def is_sick(self) -> bool:
        """Some fault was built in, at whatever time."""
        return any(built.kind for built in self.built)


SMALL = (4.5, 5.5)
LARGE = (36.0, 44.0)
NEAR = ("Tarn 1", "Tarn 1.5")
YARD = ("Mere 2", "Mere 3")
WELLS = ("Ghyll 1.5",)
FINE_LATE = ((5.0, 60.0), (1.0, 5.0))
TEN = ((5.0, 60.0), (10 / 7, 10.0))
TWENTY = ((5.0, 60.0), (10 / 7, 20.0))
THIRTY = ((5.0, 60.0), (10 / 7, 30.0))
TWO_WEEKS = ((2.0, 60.0), (8 / 7, 30.0))  # logged for so long only
TEN_FROM_3 = ((3.0, 120.0), (1.0, 10.0))
TWENTY_FROM_3 = ((3.0, 120.0), (9 / 7, 20.0))
THIRTY_FROM_3 = ((3.0, 60.0), (8 / 7, 30.0))
TEN_FROM_4 = ((4.0, 120.0), (10 / 7, 10.0))
TWENTY_FROM_4 = ((4.0, 120.0), (10 / 7, 20.0))
THIRTY_FROM_4 = ((4.0, 120.0), (10 / 7, 30.0))
OVER_LOADED = "setting:overload_setting_amps;setting:rated_amps"

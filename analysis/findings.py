"""What can be said of a pump: kinds, causes, findings, and the five possible answers.

The kinds, causes and statuses here are the contract of every output file; the detectors fill
them in.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class Kind(StrEnum):
    """A fault kind, as it stands in ``findings.csv``."""

    SHORT_CYCLING = "short_cycling"
    UNDERVOLTAGE = "undervoltage"
    OVERLOAD_MARGIN = "overload_margin"
    LEAK = "leak"
    DRY_RUNNING = "dry_running"
    WEAK_DELIVERY = "weak_delivery"
    SENSOR_FAULT = "sensor_fault"
    HUNTING = "hunting"
    OVERHEATING = "overheating"
    DATA_GAP = "data_gap"
    CONTROLLER_TRIP = "controller_trip"
    SETTING = "setting"


CAUSES: Mapping[Kind, tuple[str, ...]] = {
    Kind.SHORT_CYCLING: ("tank_charge_lost", "leak", "low_demand"),
    Kind.UNDERVOLTAGE: ("supply_wiring", "supply_source"),
    Kind.OVERLOAD_MARGIN: ("rising_load", "high_load"),
    Kind.LEAK: ("downstream", "check_valve"),
    Kind.DRY_RUNNING: ("suction_lost",),
    Kind.WEAK_DELIVERY: ("wrong_rotation", "worn_or_blocked", "low_voltage"),
    Kind.SENSOR_FAULT: ("stuck", "out_of_range", "offset"),
    Kind.HUNTING: ("ramp_too_fast",),
    Kind.OVERHEATING: (),
    Kind.DATA_GAP: (),
    Kind.CONTROLLER_TRIP: (),  # its cause is the controller's own code, whatever that is
    Kind.SETTING: (
        "overload_setting_amps",
        "min_hz",
        "max_hz",
        "ramp",
        "precharge",
        "tank",
        "output_filter",
        "supply_wire",
        "pressure_setting",
        "supply_volts",
        "rated_amps",
        "service_factor_amps",
    ),
}


class Status(StrEnum):
    """The five different answers; every pump has one for every kind, every week."""

    FOUND = "found"
    CLEAR = "clear"
    NOT_ASSESSED = "not_assessed"
    NO_DATA = "no_data"
    SHUT_DOWN = "shut_down"


class Severity(StrEnum):
    """How much it matters; how sure we are is ``confidence``, kept apart."""

    LOW = "low"
    MEDIUM = "medium"
    HIGH = "high"


SEVERITY_OF_CONSEQUENCE: Mapping[int, Severity] = {
    1: Severity.LOW,  # housekeeping
    2: Severity.LOW,  # money or wear
    3: Severity.MEDIUM,  # damage within months, or poor service
    4: Severity.HIGH,  # damage within days
    5: Severity.HIGH,  # no water now, fire or burst
}
"""Severity follows the consequence alone, so that it never hides how sure we are."""

MeasureValue = float | int | str | bool | None | list["MeasureValue"]


@dataclass(frozen=True, kw_only=True)
class Judged:
    """What a detector returns when it finds something: a finding without its place and history.

    Attributes
    ----------
    cause : str
        One of ``CAUSES[kind]``, or "" where the record does not tell; of a controller trip the
        code as logged.
    consequence : int
        1 housekeeping .. 5 no water now, fire or burst (the call list ranks by it).
    confidence : float
        0 to 1, from stated grounds (``grounds``).
    since_at, until_at : datetime
        UTC; first and last evidence within this week (the scan extends ``first_seen`` back).
    measures : mapping
        Unit-suffixed names to plain values, at least those the contract lists for the kind.
    summary : str
        One sentence a dispatcher can read out, with numbers and the site's units.
    limit_source : str
        Where the limit comes from.
    grounds : tuple of str
        Why the confidence is what it is, in short sentences.
    alternatives : tuple of str
        What else it could be, in short sentences.
    """

    kind: Kind
    cause: str
    consequence: int
    confidence: float
    since_at: datetime
    until_at: datetime
    measures: Mapping[str, MeasureValue]
    summary: str
    limit_source: str
    grounds: tuple[str, ...] = ()
    alternatives: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class NotAssessed:
    """A detector could not judge, and why ("no tank_l in the register")."""

    reason: str


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One row of ``findings.csv`` with what pages need beside it."""

    week: str
    site_id: str
    pump_id: str
    kind: Kind
    cause: str
    severity: Severity
    confidence: float
    first_seen: datetime
    last_seen: datetime
    measures: Mapping[str, MeasureValue]
    summary: str
    limit_source: str
    consequence: int
    state: str  # "new", "worse", "same", "better", "back"
    grounds: tuple[str, ...] = ()
    alternatives: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Assessment:
    """One row of ``assessments.csv``: what is known of one kind on one pump this week."""

    week: str
    site_id: str
    pump_id: str
    kind: Kind
    status: Status
    reason: str = ""


@dataclass(frozen=True, kw_only=True)
class Needs:
    """What a detector cannot do without; the scan turns a lack into "not assessed".

    Attributes
    ----------
    log : tuple of str
        Log columns that must carry values this week (``voltage_v``).
    register : tuple of str
        Fields of ``Pump`` that must not be blank.
    interval_max_s : float
        Longest log interval with which the kind can be judged. [s]
    observed_min_share : float
        Least share of the week that must have been observed, 0 to 1.
    """

    log: tuple[str, ...] = ()
    register: tuple[str, ...] = ()
    interval_max_s: float = 900.0
    observed_min_share: float = 0.0

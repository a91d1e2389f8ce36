"""Facts of one pump as a technician reads them: plate, settings, normal values, data quality."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import TypeVar

from analysis.limits import COUNT_INTERVAL_S
from analysis.physics.electrical import awg_mm2
from analysis.records import OpMapBin, PumpWeek
from analysis.warranty import warranty_until
from analysis.wording import (
    amps_text,
    duration_text,
    figures_text,
    frequency_text,
    length_text,
    percent_text,
    power_text,
    pressure_text,
    volts_text,
    volume_text,
)
from ingest.installed_base import Pump

Value = TypeVar("Value")

_GAUGES = range(18, -1, -2)
_GAUGE_TOLERANCE = 0.05


@dataclass(frozen=True)
class Fact:
    """A quantity and its value in the site's units; ``None`` where the register is blank."""

    name: str
    value: str | None


@dataclass(frozen=True)
class NormalValue:
    """What a meter should show here: this week, and usually (median of earlier weeks).

    ``None`` where the log does not tell.
    """

    name: str
    this_week: str | None
    usual: str | None


def nameplate(pump: Pump, units: str) -> tuple[Fact, ...]:
    """What stands on pump, motor and tank, and how they are wired."""
    wire = None
    if pump.supply_wire_mm2 is not None or pump.supply_wire_m is not None:
        size = _or_blank(pump.supply_wire_mm2, lambda mm2: _conductor(mm2, units))
        run = _or_blank(pump.supply_wire_m, lambda m: f"{length_text(m, units)} one way")
        wire = f"{size or 'size ____'}, {run or 'length ____'}"
    until_on = warranty_until(pump)
    return (
        Fact("Pump model", pump.pump_model),
        Fact("Motor model", pump.motor_model),
        Fact("Controller model", pump.controller_model),
        Fact("Motor power", _or_blank(pump.motor_kw, lambda kw: power_text(kw, units))),
        Fact("Motor volts", _or_blank(pump.motor_volts, volts_text)),
        Fact("Motor phases", _or_blank(pump.motor_phases, str)),
        Fact("Full-load amps", _or_blank(pump.rated_amps, amps_text)),
        Fact("Service-factor amps", _or_blank(pump.service_factor_amps, amps_text)),
        Fact("Supply", _or_blank(pump.supply_volts, lambda v: _supply(v, pump.supply_phases))),
        Fact("Supply conductor", wire),
        Fact("Motor lead", _or_blank(pump.motor_lead_m, lambda m: length_text(m, units))),
        Fact("Output filter", _or_blank(pump.output_filter, lambda has: "yes" if has else "no")),
        Fact("Pressure tank", _or_blank(pump.tank_l, lambda litres: volume_text(litres, units))),
        Fact("Installed", _or_blank(pump.installed_on, lambda day: day.isoformat())),
        *([] if until_on is None else [Fact("Warranty until", until_on.isoformat())]),
    )


def settings(pump: Pump, units: str) -> tuple[Fact, ...]:
    """What can be set on controller and tank, as registered."""
    return (
        Fact("Set pressure", _pressure(pump.pressure_setting_kpa, units)),
        Fact("Tank pre-charge", _pressure(pump.precharge_kpa, units)),
        Fact("Overload setting", _or_blank(pump.overload_setting_amps, amps_text)),
        Fact("Minimum speed", frequency_text(pump.min_hz)),
        Fact("Maximum speed", frequency_text(pump.max_hz)),
        Fact("Ramp", pump.ramp),
        Fact("Suction", pump.suction),
        Fact("Usual suction pressure", _pressure(pump.suction_kpa, units)),
    )


def normal_values(
    week: PumpWeek | None, past: Sequence[PumpWeek], op_map: Sequence[OpMapBin], units: str
) -> tuple[NormalValue, ...]:
    """Values a meter or gauge can be held against, this week and as usual here.

    Parameters
    ----------
    week : PumpWeek or None
        This week's record.
    past : sequence of PumpWeek
        Earlier weeks.
    op_map : sequence of OpMapBin
        Cells of all those weeks.
    units : str
        ``us`` or ``si``.
    """

    def both(
        name: str, of: Callable[[PumpWeek], float | None], text: Callable[[float], str]
    ) -> NormalValue:
        earlier = [value for value in map(of, past) if value is not None]
        now = None if week is None else of(week)
        return NormalValue(
            name,
            None if now is None else text(now),
            text(median(earlier)) if earlier else None,
        )

    def pressure(kpa: float) -> str:
        return pressure_text(kpa, units)

    return (
        both("Speed at no flow", lambda w: w.f0_hz, lambda hz: f"{hz:.1f} Hz"),
        _usual_amps(week, past, op_map),
        both("Motor amps, 95th percentile", lambda w: w.current_p95_a, amps_text),
        _idle_volts(week, past),
        both("Volt drop when it starts", lambda w: w.own_drop_v, volts_text),
        both("Held pressure", lambda w: w.held_pressure_kpa, pressure),
        both("Restart pressure", lambda w: w.restart_pressure_kpa, pressure),
        both("Starts a day", lambda w: w.starts_per_day, lambda n: str(round(n))),
        both("Run time a day", lambda w: w.run_share * 86_400, duration_text),
    )


def quality(week: PumpWeek) -> tuple[Fact, ...]:
    """How good the week's data are."""
    averaged = "averages" if week.is_averaged else "instants"
    return (
        Fact("Log interval", f"{duration_text(week.log_interval_s)}, values are {averaged}"),
        Fact("Week observed", percent_text(100.0 * (1.0 - week.share_missing))),
        Fact("Nights observed", f"{week.n_nights} of 7"),
        Fact(
            "Longest silence", duration_text(week.longest_gap_s) if week.longest_gap_s else "none"
        ),
        Fact("Samples", f"{week.n_samples:,}"),
    )


def cannot_tell(week: PumpWeek, pump: Pump) -> tuple[str, ...]:
    """What this log cannot show, whatever the pump does; kinds have answers of their own."""
    limits = (
        (not week.has_voltage, "Wire from utility: no voltage column in the log."),
        (
            week.has_voltage,
            "Which of panel, transformer, service or another load lowers the idle volts; the"
            " minimum is the lowest seen, a sag between two samples is not.",
        ),
        (pump.supply_phases == 3, "Loss or unbalance of a phase: one voltage is logged."),
        (
            week.log_interval_s > COUNT_INTERVAL_S.value,
            "Every start: runs shorter than two samples are missed, so counts are lower bounds.",
        ),
        (week.is_averaged, "Extremes and single starts: the logger averages between its samples."),
        (not week.has_flow, "Flow: no flow meter is logged; litres come from the tank's law."),
        (True, "An error of the pressure sensor itself: compare with a gauge."),
    )
    return tuple(text for holds, text in limits if holds)


def _usual_amps(
    week: PumpWeek | None, past: Sequence[PumpWeek], op_map: Sequence[OpMapBin]
) -> NormalValue:
    """Motor amps in the cell of speed and pressure where the pump runs longest, in all weeks."""
    name = "Motor amps at set pressure"
    cells = [cell for cell in op_map if cell.current_mean_a is not None]
    if not cells:
        return NormalValue(name, None, None)
    held_s: dict[tuple[float, float], float] = {}
    for cell in cells:
        key = (cell.pressure_bin_pct, cell.frequency_bin_hz)
        held_s[key] = held_s.get(key, 0.0) + cell.held_s
    pressure_pct, hz = max(held_s, key=lambda key: (held_s[key], key))
    of_week = {
        cell.week: cell.current_mean_a
        for cell in cells
        if (cell.pressure_bin_pct, cell.frequency_bin_hz) == (pressure_pct, hz)
        and cell.current_mean_a is not None
    }
    now = None if week is None else of_week.get(week.week)
    earlier = [of_week[w.week] for w in past if w.week in of_week]
    speed = f"at {hz:.0f} to {hz + 2:.0f} Hz"
    return NormalValue(
        name,
        None if now is None else f"{amps_text(now)} {speed}",
        f"{amps_text(median(earlier))} {speed}" if earlier else None,
    )


def _idle_volts(week: PumpWeek | None, past: Sequence[PumpWeek]) -> NormalValue:
    def text(low: float, high: float) -> str:
        return f"{low:.0f} to {high:.0f} V"

    ranges = [
        (w.idle_v_p05, w.idle_v_p95)
        for w in past
        if w.idle_v_p05 is not None and w.idle_v_p95 is not None
    ]
    now = None
    if week is not None and week.idle_v_p05 is not None and week.idle_v_p95 is not None:
        now = text(week.idle_v_p05, week.idle_v_p95)
    usual = None
    if ranges:
        usual = text(median(low for low, _ in ranges), median(high for _, high in ranges))
    return NormalValue("Idle volts, 5th to 95th percentile", now, usual)


def _or_blank(value: Value | None, text: Callable[[Value], str]) -> str | None:
    return None if value is None else text(value)


def _conductor(mm2: float, units: str) -> str:
    """Size as it stands on the jacket: the nearest even gauge within 5 % at a US site."""
    gauge = min(_GAUGES, key=lambda n: abs(float(awg_mm2(n)) - mm2))
    if units == "us" and abs(float(awg_mm2(gauge)) / mm2 - 1.0) <= _GAUGE_TOLERANCE:
        return f"{gauge} AWG"
    return f"{figures_text(mm2)} mm2"


def _pressure(kpa: float | None, units: str) -> str | None:
    return None if kpa is None else pressure_text(kpa, units)


def _supply(volts: float, phases: int) -> str:
    return f"{volts_text(volts)}, {phases}-phase"

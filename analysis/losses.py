"""What a finding costs its owner in water and energy a week, where the log lets it be worked out.

An estimate from the week's own record with the assumptions said beside it; where nothing can be
worked out that is said, never a usual figure taken instead. Money comes from the site's tariff in
the register alone, in whatever currency that names.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from analysis.case import Case
from analysis.findings import Finding, Judged, Kind
from analysis.limits import Limit
from analysis.physics.electrical import (
    DRIVE_EFFICIENCY,
    MOTOR_POWER_FACTOR,
    electrical_power_w,
)
from analysis.physics.pump import hydraulic_power_w
from analysis.wording import figures_text, join_text, volume_text
from ingest.installed_base import Site

WIRE_TO_WATER_SHARE = Limit(
    0.4, "of the energy taken", "common practice: drive, motor and pump of small sets, 0.3 to 0.5"
)
_DAYS = 7.0
_L_PER_M3 = 1000.0
_J_PER_KWH = 3.6e6
_W_PER_KW = 1000.0
_M3_IN_AN_HOUR_LPM = 1000.0 / 60.0


@dataclass(frozen=True, kw_only=True)
class Loss:
    """Water and energy lost a week; ``basis`` says what it rests on, or why it is not known."""

    water_l_per_week: float | None = None
    energy_kwh_per_week: float | None = None
    basis: str


def with_loss(judged: Judged, case: Case) -> Judged:
    """Return a finding with what it loses among its measures.

    ``water_lost_l_per_week`` [L] and ``energy_lost_kwh_per_week`` [kWh] are None where they are
    not known; ``loss_basis`` says what they rest on, or why not.
    """
    loss = loss_of(judged, case)
    return replace(
        judged,
        measures={
            **judged.measures,
            "water_lost_l_per_week": _rounded(loss.water_l_per_week),
            "energy_lost_kwh_per_week": _rounded(loss.energy_kwh_per_week),
            "loss_basis": loss.basis,
        },
    )


def loss_of(judged: Judged, case: Case) -> Loss:
    """Work out what a finding loses a week."""
    work_out = _WORK_OUT.get((judged.kind, judged.cause)) or _WORK_OUT.get((judged.kind, ""))
    return work_out(judged, case) if work_out else Loss(basis=_NOT_DERIVABLE[judged.kind])


def cost_per_week(finding: Finding, site: Site) -> float | None:
    """Money a finding loses a week at the site's tariff; None where nothing can be priced."""
    parts = [
        quantity * price
        for quantity, price in (
            (_measure(finding, "energy_lost_kwh_per_week"), site.energy_price_per_kwh),
            (_m3_lost(finding), site.water_price_per_m3),
        )
        if quantity is not None and price is not None
    ]
    return sum(parts) if parts else None


def site_cost_per_week(findings: Iterable[Finding], site: Site) -> float:
    """Money the findings of a site lose a week, as far as it is known, to the cent."""
    return round(sum(cost_per_week(finding, site) or 0.0 for finding in findings), 2)


def has_one_currency(sites: Iterable[Site]) -> bool:
    """Say whether all prices are in one currency, so that money can be compared."""
    priced = [
        site
        for site in sites
        if site.energy_price_per_kwh is not None or site.water_price_per_m3 is not None
    ]
    return len({site.currency for site in priced}) == 1


def loss_text(finding: Finding, site: Site) -> str:
    """Say what a finding loses a week and what that costs; "" where it is not known."""
    litres = _measure(finding, "water_lost_l_per_week")
    kwh = _measure(finding, "energy_lost_kwh_per_week")
    parts = []
    if litres is not None:
        parts.append(f"{volume_text(litres, site.units)} of water")
    if kwh is not None:
        parts.append(f"{figures_text(kwh)} kWh")
    if not parts:
        return ""
    about = "at most" if finding.measures.get("leak_is_upper_bound") else "about"
    basis = finding.measures.get("loss_basis")
    return f"Loses {about} {join_text(parts)} a week ({basis}){_cost_clause(finding, site)}."


def no_loss_text(finding: Finding) -> str:
    """Say why it is not known what a finding loses; "" where it is, or was never asked."""
    known = ("water_lost_l_per_week", "energy_lost_kwh_per_week")
    basis = finding.measures.get("loss_basis")
    is_known = any(_measure(finding, name) is not None for name in known)
    return "" if is_known or not basis else f"Water and energy lost: {basis}."


def _cost_clause(finding: Finding, site: Site) -> str:
    lacks = [
        name
        for name, quantity, price in (
            ("energy price", "energy_lost_kwh_per_week", site.energy_price_per_kwh),
            ("water price", "water_lost_l_per_week", site.water_price_per_m3),
        )
        if price is None and _measure(finding, quantity) is not None
    ]
    cost = cost_per_week(finding, site)
    lacking = f"no {join_text(lacks)} in the register" if lacks else ""
    if cost is None:
        return f"; {lacking}" if lacking else ""
    money = f"{figures_text(cost)} {site.currency or 'in the money of the tariff'}"
    return f", {money} at the site's tariff{f' ({lacking})' if lacking else ''}"


def _leak(judged: Judged, case: Case) -> Loss:
    per_day = judged.measures.get("leak_l_per_day")
    if not isinstance(per_day, int | float):
        return Loss(basis="not derivable: the leak is not sized")
    litres = per_day * _DAYS
    kwh_per_m3, basis = _energy_per_m3(case)
    kwh = None if kwh_per_m3 is None else litres / _L_PER_M3 * kwh_per_m3
    if judged.cause == "check_valve":  # the water runs back to where it came from
        return Loss(energy_kwh_per_week=kwh, basis=f"water pumped twice, none lost; {basis}")
    return Loss(water_l_per_week=litres, energy_kwh_per_week=kwh, basis=basis)


def _energy_per_m3(case: Case) -> tuple[float | None, str]:
    """Energy taken per volume pumped, by the week's flow or else by pressure, and its basis."""
    flow = case.flow
    if flow is not None and flow.kwh_per_m3 is not None:
        return flow.kwh_per_m3[0], f"energy from this week's kWh per volume, flow by {flow.basis}"
    held_kpa, suction_kpa = case.week.held_pressure_kpa, case.pump.suction_kpa
    if held_kpa is None or suction_kpa is None:
        return None, "its energy is not derivable: neither flow nor suction pressure is known"
    hydraulic_kw = float(hydraulic_power_w(_M3_IN_AN_HOUR_LPM, held_kpa - suction_kpa)) / _W_PER_KW
    share = WIRE_TO_WATER_SHARE.value
    return hydraulic_kw / share, f"energy from the pressure made, {100 * share:.0f} % efficient"


def _heat_in_wiring(judged: Judged, case: Case) -> Loss:
    """Heat of the circuit beyond its wire's: joule's law over the hours run."""
    week, wire_ohm = case.week, judged.measures.get("wire_resistance_ohm")
    current_a, ohm = week.pair_supply_a, week.loop_resistance_ohm
    if current_a is None or ohm is None:
        return Loss(basis="not derivable: no own drop of the circuit is known")
    if not isinstance(wire_ohm, int | float):
        return Loss(basis="not derivable: what the wire alone takes is not in the register")
    excess_v = max(0.0, ohm - wire_ohm) * current_a
    watts = float(electrical_power_w(excess_v, current_a, 1.0, case.pump.supply_phases))
    return Loss(
        energy_kwh_per_week=watts * _run_s_per_week(case) / _J_PER_KWH,
        basis="heat in the circuit beyond that of the recorded wire, at"
        f" {figures_text(current_a)} A for the hours run",
    )


def _more_load(judged: Judged, case: Case) -> Loss:
    """Energy of the current that came on top: at like speed power follows it."""
    grown_pct = judged.measures.get("drift_total_pct")
    kwh = _kwh_per_week(case)
    if not isinstance(grown_pct, int | float) or kwh is None:
        return Loss(basis="not derivable: no past to compare the power with")
    if grown_pct <= 0:
        return Loss(basis="not derivable: current has not grown at like speed")
    return Loss(
        energy_kwh_per_week=kwh * grown_pct / (100.0 + grown_pct),
        basis=f"motor current {figures_text(grown_pct)} % up at like speed, power factor"
        f" {MOTOR_POWER_FACTOR.value:.2f} assumed",
    )


def _kwh_per_week(case: Case) -> float | None:
    """Energy into the drive in the week, from motor current; None without current or volts."""
    pump = case.pump
    cells = [
        cell
        for cell in (case.op_map[-1] if case.op_map else ())
        if cell.week == case.week.week and cell.held_s > 0 and cell.current_mean_a is not None
    ]
    if pump.motor_volts is None or not cells:
        return None
    ramp = np.minimum(1.0, np.array([cell.frequency_mean_hz for cell in cells]) / pump.max_hz)
    current_a = np.array([cell.current_mean_a for cell in cells], dtype=np.float64)
    watts = electrical_power_w(
        pump.motor_volts * ramp, current_a, MOTOR_POWER_FACTOR.value, pump.motor_phases or 3
    )
    mean_w = float(np.average(watts, weights=[cell.held_s for cell in cells]))
    return mean_w / DRIVE_EFFICIENCY.value * _run_s_per_week(case) / _J_PER_KWH


def _run_s_per_week(case: Case) -> float:
    """Running time of a whole week at the share of what was observed."""
    week = case.week
    return week.run_share * (week.to_at - week.from_at).total_seconds()


def _m3_lost(finding: Finding) -> float | None:
    litres = _measure(finding, "water_lost_l_per_week")
    return None if litres is None else litres / _L_PER_M3


def _measure(finding: Finding, name: str) -> float | None:
    value = finding.measures.get(name)
    return float(value) if isinstance(value, int | float) else None


def _rounded(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.3g}")


_WORK_OUT: Mapping[tuple[Kind, str], Callable[[Judged, Case], Loss]] = {
    (Kind.LEAK, ""): _leak,
    (Kind.UNDERVOLTAGE, "supply_wiring"): _heat_in_wiring,
    (Kind.OVERLOAD_MARGIN, "rising_load"): _more_load,
}

_NONE = "none of its own"
_NOT_DERIVABLE: Mapping[Kind, str] = {
    Kind.SHORT_CYCLING: "not derivable: what a start takes is not logged",
    Kind.UNDERVOLTAGE: "not derivable: the loss is before the controller, or not told from it",
    Kind.OVERLOAD_MARGIN: "not derivable: no healthy past to compare the power with",
    Kind.LEAK: "not derivable: the leak is not sized",
    Kind.DRY_RUNNING: "none to speak of: it costs the pump",
    Kind.WEAK_DELIVERY: "not derivable: the water it fails to deliver is not logged",
    Kind.SENSOR_FAULT: "not derivable: a wrong reading hides what the pump gives",
    Kind.HUNTING: "not derivable: what the swings take is not logged apart",
    Kind.OVERHEATING: _NONE,
    Kind.DATA_GAP: _NONE,
    Kind.CONTROLLER_TRIP: _NONE,
    Kind.SETTING: "not derivable: no past at the right setting",
}

"""Whether a pump's low supply is its own or its neighbourhood's: who else sagged that week."""

from collections.abc import Mapping
from dataclasses import dataclass

from analysis.case import Neighbours
from analysis.limits import IDLE_LOW_PCT
from ingest.installed_base import Pump, Register


@dataclass(frozen=True)
class IdleLows:
    """Low idle supply of one week, counted once for the whole fleet.

    Attributes
    ----------
    pumps : dict of site id to dict of pump id to bool
        Pumps with volts logged; True where their idle supply was low.
    sites : dict of region to (sites with volts logged, of them low)
    """

    pumps: Mapping[str, Mapping[str, bool]]
    sites: Mapping[str, tuple[int, int]]


def count_idle_lows(register: Register, idle_volts: Mapping[str, float | None]) -> IdleLows:
    """Count low idle supplies by site and region.

    Parameters
    ----------
    idle_volts : mapping of str to float or None
        ``idle_v_p05`` of one week by pump id.
    """
    pumps: dict[str, dict[str, bool]] = {}
    for pump_id, idle_v_p05 in idle_volts.items():
        pump = register.pumps.get(pump_id)
        low = None if pump is None else _is_low(idle_v_p05, pump)
        if pump is not None and low is not None:
            pumps.setdefault(pump.site_id, {})[pump_id] = low
    sites: dict[str, tuple[int, int]] = {}
    for site_id, lows in pumps.items():
        region = register.sites[site_id].region
        if region is not None:
            n, n_low = sites.get(region, (0, 0))
            sites[region] = (n + 1, n_low + any(lows.values()))
    return IdleLows(pumps, sites)


def neighbours_of(pump: Pump, register: Register, lows: IdleLows) -> Neighbours | None:
    """Other sites of the pump's region, and other pumps of its site, with a low idle supply.

    Returns
    -------
    Neighbours, or None where the pump's region is blank.
    """
    region = register.sites[pump.site_id].region
    if region is None:
        return None
    n_sites, n_low = lows.sites.get(region, (0, 0))
    own_site = lows.pumps.get(pump.site_id, {})
    same_site = [low for pump_id, low in own_site.items() if pump_id != pump.pump_id]
    return Neighbours(
        n_sites=n_sites - bool(own_site),
        n_sites_low=n_low - any(own_site.values()),
        same_site_pumps=len(same_site),
        same_site_pumps_low=sum(same_site),
    )


def _is_low(idle_v_p05: float | None, pump: Pump) -> bool | None:
    """Whether idle volts fell below the service range; None where it cannot be told."""
    if idle_v_p05 is None or not pump.supply_volts:
        return None
    return idle_v_p05 < IDLE_LOW_PCT.value / 100 * pump.supply_volts

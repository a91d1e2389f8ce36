"""What of the week was seen, and with what log: interval, gaps, resolution, averages."""

from typing import Any

import numpy as np

from analysis.limits import SHUT_DOWN_KPA
from analysis.measure.segments import RUNNING, UNKNOWN
from analysis.measure.trace import Trace


def observation(week: Trace) -> dict[str, Any]:
    """Fields of `PumpWeek` on what was observed.

    Returns
    -------
    dict
        By field name; units as documented there.
    """
    time, clock, cut = week.time, week.clock, week.cut
    n = time.t_s.size
    step_s = np.diff(time.t_s)
    observed_s = float(time.held_s.sum())
    silences_s = np.concatenate(([time.t_s[0]], step_s, [clock.length_s - time.t_s[-1]]))
    longest = int(np.argmax(silences_s))
    longest_from_s = 0.0 if longest == 0 else float(time.t_s[longest - 1])
    is_gap = silences_s[longest] > time.gap_limit_s
    n_flips = int(np.count_nonzero(cut.is_start | cut.is_stop))
    n_pairs = int(np.count_nonzero(~time.is_gap))
    gap_s = max(0.0, clock.length_s - observed_s)
    return {
        "n_samples": n,
        "from_at": clock.from_at,
        "to_at": clock.to_at,
        "first_at": clock.at(float(time.t_s[0])),
        "last_at": clock.at(float(time.t_s[-1])),
        "observed_s": observed_s,
        "gap_s": gap_s,
        "gap_limit_s": time.gap_limit_s,
        "state_unknown_s": float(cut.duration_s[cut.state == UNKNOWN].sum()),
        "n_gaps": int(np.count_nonzero(silences_s > time.gap_limit_s)),
        "longest_gap_s": float(silences_s[longest]),
        "longest_gap_from_at": clock.at(longest_from_s) if is_gap else None,
        "silent_s": clock.length_s - float(time.t_s[-1]),
        "share_missing": gap_s / clock.length_s,
        "log_interval_s": time.interval_s,
        "log_interval_p95_s": time.interval_p95_s,
        "is_averaged": week.is_averaged,
        "flip_share": n_flips / n_pairs if n_pairs else 0.0,
        "is_shut_down": _is_shut_down(week),
        "pressure_step_kpa": week.pressure_step_kpa,
        "has_voltage": "voltage_v" in week.logged,
        "has_suction": "suction_kpa" in week.logged,
        "has_flow": "flow_lpm" in week.logged,
        "has_input_current": "input_current_a" in week.logged,
    }


def _is_shut_down(week: Trace) -> bool:
    """Never ran, its state was known, and the line was empty all week."""
    if bool((week.state == RUNNING).any()) or bool((week.state == UNKNOWN).all()):
        return False
    highest_kpa = float(np.fmax.reduce(np.abs(week.samples.pressure_kpa)))
    return highest_kpa < SHUT_DOWN_KPA.value  # False of NaN: no pressure was logged

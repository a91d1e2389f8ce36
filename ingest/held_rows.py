"""Logs that write a value when it changes: the last value is held until the next, as samples.

Samples are made at whole multiples of the interval, so that overlapping exports make the same
ones. Nothing is held before a file's first value, behind its last, or longer than the profile
says a value stands.
"""

from ingest.log_profile import Hold
from ingest.samples import CHANNELS


def held_rows(rows: str, hold: Hold) -> str:
    """Select of ``rows`` with every channel filled and held samples between.

    Parameters
    ----------
    rows : str
        Select of file_no, row_id, pump_no, ts, the channels and fault_code.
    hold : Hold
    """
    names = (*CHANNELS, "fault_code")
    filled = ", ".join(f"last_value({name} ignore nulls) over until as {name}" for name in names)
    kept = ", ".join((*CHANNELS, "nullif(fault_code, '0') as fault_code"))
    every = f"to_microseconds({round(hold.every_s * 1e6)})"
    longest = f"to_microseconds({round(hold.longest_s * 1e6)})"
    return (
        f"with filled as (select file_no, row_id, pump_no, ts, {filled},"  # noqa: S608  # our own
        f" lead(ts) over until as next_at from ({rows})"
        " window until as (partition by file_no, pump_no order by ts, row_id"
        " rows between unbounded preceding and current row)),"
        f" held as (select * replace (unnest(range(time_bucket({every}, ts) + {every},"
        f" least(next_at, ts + {longest}), {every})) as ts) from filled"
        " where next_at is not null)"
        f" select file_no, row_id, pump_no, ts, {kept}"
        " from (select * from filled union all select * from held)"
    )

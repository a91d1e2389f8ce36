from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from dashboards.charts.local_time import instant_ms, local_ms, us_of, zone_title

ZONES = ("UTC", "America/New_York", "Asia/Kathmandu", "Australia/Lord_Howe", "America/St_Johns")


def wall_clock(ms: float) -> str:
    return (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=ms)).strftime("%m-%d %H:%M")


@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize("month", [3, 4, 10, 11])
def test_every_quarter_hour_of_a_month_shows_the_clock_of_the_zone(zone, month):
    first = datetime(2026, month, 1)  # instants here are UTC without zone
    instants = [first + timedelta(minutes=15 * n) for n in range(30 * 96)]
    expected = [
        t.replace(tzinfo=UTC).astimezone(ZoneInfo(zone)).strftime("%m-%d %H:%M") for t in instants
    ]

    got = local_ms(np.array([us_of(t) for t in instants]), zone)

    assert [wall_clock(ms) for ms in got] == expected
    assert [instant_ms(t, zone) for t in instants[::500]] == got[::500].tolist()


def test_the_zone_is_named_and_both_names_where_clocks_change():
    monday, next_monday = datetime(2026, 10, 26, 4), datetime(2026, 11, 2, 5)

    assert zone_title("America/New_York", monday, next_monday) == (
        "local time, America/New_York (EDT, then EST)"
    )
    assert zone_title("UTC", monday, next_monday) == "local time, UTC"

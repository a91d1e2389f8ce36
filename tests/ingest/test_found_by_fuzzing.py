"""What long searches with made-up bytes have found, each kept as the bytes it was found with."""

import pytest

from ingest.load import load_logs
from ingest.verify import verify_store

HEADER = b"timestamp,pressure_kpa,frequency_hz,current_a"
ROW = b"2026-11-16T00:00:00Z,400,45,3"


@pytest.mark.parametrize("end", [b"\n", b"\r\n", b"\r"])
@pytest.mark.parametrize("before", [[], [b"Report"], [b"", b"Report", b"of week 47"]])
def test_lines_before_the_data_are_skipped_whatever_ends_them(
    con, register, write_log, before, end
):
    path = write_log("P-1.csv", [])
    path.write_bytes(end.join([*before, HEADER, b",kPa,Hz,A", ROW, b"junk", b""]))

    report = load_logs(con, [path], register)

    assert report.rows_kept == 1
    assert [problem.line for problem in report.rejects] == [len(before) + 4]
    assert verify_store(con).faults == ()


@pytest.mark.parametrize(
    "content",
    [HEADER, HEADER + b"\r\n" + HEADER + b"\r\n", b"Report\r\n\r\n" + HEADER],
    ids=["no end", "twice", "no end below a title"],
)
def test_a_header_alone_is_no_sample_and_no_crash(con, register, write_log, content):
    path = write_log("P-1.csv", [])
    path.write_bytes(content)

    report = load_logs(con, [path], register)

    assert (report.rows_in, report.rejects) == (0, ())

"""A layout never seen before becomes a profile that reads it, or names what it could not tell."""

from datetime import datetime, timedelta

import pytest

from ingest.errors import LogError
from ingest.load import load_logs
from ingest.look import look
from ingest.profile import read_profile

START = datetime(2026, 11, 16)


def cycle(k):
    """One row of a pump at 4 bar: pressure in bar, frequency in Hz, current in A, supply in V."""
    is_on = k % 60 < 20
    return 4.0 + 0.01 * (k % 3), (44.0 + k % 4) * is_on, (3.0 + 0.1 * (k % 4)) * is_on, 231 + k % 3


def comma(value):
    return f"{value:.2f}".replace(".", ",")


def at(k, form):
    return (START + timedelta(seconds=10 * k)).strftime(form)


def german(folder):
    lines = [
        "Anlagenbericht",
        "Datum;Zeit;Druck;Drehzahl;Strom;Spannung;Notiz",
        ";;bar;1/min;A;V;",
    ]
    for k in range(300):
        kpa, hz, amps, volts = cycle(k)
        cells = [comma(kpa), comma(hz * 57.5), comma(amps), comma(volts), "---"]
        lines.append(";".join([at(k, "%d.%m.%Y"), at(k, "%H:%M:%S"), *cells]))
    path = folder / "P-1_bericht.csv"
    path.write_text("\n".join(lines) + "\n", encoding="cp1252")
    return path


def american(folder):
    lines = ["Station,Date/Time,Discharge Pressure,Drive Hz,Motor Amps,Line Volts,Drive Temp (F)"]
    for k in range(300):
        bar, hz, amps, volts = cycle(k)
        cells = [f"{bar * 14.5038:.2f}", f"{hz:.1f}", f"{amps:.1f}", f"{volts}", "98.6"]
        lines.append(",".join(["P-1", at(k, "%m/%d/%Y %I:%M:%S %p"), *cells]))
    path = folder / "export 47.csv"
    path.write_text("\n".join(lines) + "\n")
    return path


def tagged(folder):
    lines = ["tag|t|v"]
    for k in range(300):
        bar, hz, amps, _ = cycle(k)
        epoch = 1794787200 + 10 * k
        lines += [
            f"PT01|{epoch}|{bar * 100:.1f}",
            f"VFD.OUT_HZ|{epoch}|{hz}",
            f"AMPS|{epoch}|{amps:.2f}",
        ]
    path = folder / "hist_P-1.csv"
    path.write_text("\n".join(lines) + "\n")
    return path


def headless(folder):
    lines = []
    for k in range(300):
        _, hz, amps, volts = cycle(k)
        lines.append(f"{at(k, '%Y-%m-%dT%H:%M:%SZ')},{hz},{amps:.2f},{volts}")
    path = folder / "P-1.csv"
    path.write_text("\n".join(lines) + "\n")
    return path


@pytest.mark.parametrize("make", [german, american, tagged])
def test_the_proposed_profile_reads_the_log_it_was_made_from(
    con, register, tmp_path, make, samples_of
):
    path = make(tmp_path)

    proposal = look([path], register)

    assert proposal.trial.startswith("Tried on the first rows: 300 samples of 300 rows.")
    profile = tmp_path / "profile.toml"
    profile.write_text(proposal.toml)
    report = load_logs(con, [path], register, [read_profile(profile)])
    assert (report.rows_kept, report.rejects) == (300, ())
    got = samples_of("P-1")
    expected = [cycle(k) for k in range(300)]
    assert got.pressure_kpa.tolist() == pytest.approx([100 * e[0] for e in expected], abs=0.5)
    assert got.frequency_hz.tolist() == pytest.approx([e[1] for e in expected], abs=0.1)
    assert got.current_a.tolist() == pytest.approx([e[2] for e in expected], abs=0.06)


def test_each_quantity_tells_what_it_was_known_by(tmp_path, register):
    proposal = look([american(tmp_path)], register)

    assert "as psi near the register's setting of 400 kPa" in proposal.toml
    assert "flows when the drive runs, and only then" in proposal.toml
    assert "steady between 231 and 233" in proposal.toml


def test_what_is_guessed_is_to_be_checked(tmp_path, register):
    proposal = look([german(tmp_path)], register)

    assert proposal.doubts == ("frequency: 3450 rpm is taken for 60 Hz, as of a two-pole motor",)
    assert "# CHECK: frequency: 3450 rpm is taken for 60 Hz" in proposal.toml
    assert "# Not read: Notiz." in proposal.toml


def test_a_needed_quantity_that_nothing_looks_like_is_named(tmp_path, register):
    proposal = look([headless(tmp_path)], register)

    assert "nothing looks like pressure" in proposal.doubts
    assert "[values.pressure] is missing" in proposal.trial
    assert "column = 2" in proposal.toml


def test_a_unit_against_the_register_is_told_with_both_numbers(tmp_path, register):
    path = american(tmp_path)
    path.write_text(path.read_text().replace("Discharge Pressure", "Discharge Pressure [bar]"))

    (doubt,) = look([path], register).doubts

    assert (
        "as bar 5816 kPa, but the register's settings are about 400 kPa: as if it were psi"
        in doubt
    )


def test_day_and_month_that_the_first_rows_do_not_tell_are_to_be_checked(tmp_path, register):
    path = american(tmp_path)
    path.write_text(path.read_text().replace("11/16/2026", "11/12/2026"))

    assert look([path], register).doubts == (
        "the first rows do not tell the day from the month; %d/%m is a guess",
    )


def test_a_file_without_times_and_numbers_is_an_error(tmp_path):
    path = tmp_path / "notes.csv"
    path.write_text("one,two\nthree,four\n")

    with pytest.raises(LogError, match="no row in it has a time and a number"):
        look([path])

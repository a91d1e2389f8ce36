"""Logs to measure time with: on/off cycling pumps, autocorrelated noise, one decimal.

    python tests/benchmark/logs.py DIR PUMPS INTERVAL_S csv|parquet

They are shaped like real logs (one CSV or Parquet file a pump-week, 8 % short cyclers, about a
sixth of the samples running) and are no physics: findings on them mean nothing.
"""

from pathlib import Path

import click
import numpy as np
import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet
from numpy.typing import NDArray

MONDAY_US = 1_794_787_200_000_000  # 2026-11-16T00:00:00Z
DAY_US = 86_400_000_000


def make_fleet(folder: Path, n_pumps: int, interval_s: float, *, file_format: str = "csv") -> int:
    """Write ``folder/register`` and ``folder/logs``, one week; return the number of samples."""
    make_register(folder / "register", n_pumps)
    return make_week(folder / "logs", n_pumps, interval_s, file_format=file_format)


def make_register(register: Path, n_pumps: int) -> None:
    """Write the register of a fleet, two pumps a site."""
    register.mkdir(parents=True)
    sites = [f"S-{n // 2:05d}" for n in range(0, n_pumps, 2)]
    (register / "sites.csv").write_text(
        "site_id,timezone,region\n"
        + "".join(f"{site},UTC,R-{n % 7}\n" for n, site in enumerate(sites))
    )
    (register / "pumps.csv").write_text(
        "pump_id,site_id,motor_hp,motor_volts,rated_amps,service_factor_amps,"
        "overload_setting_amps,supply_volts,pressure_setting_psi,suction,tank_gal,precharge_psi,"
        "supply_wire_awg,supply_wire_ft\n"
        + "".join(
            f"P-{n:05d},S-{n // 2:05d},1.5,230,6.0,6.9,6.9,240,60,tank,20,42,10,80\n"
            for n in range(n_pumps)
        )
    )


def make_week(
    logs: Path,
    n_pumps: int,
    interval_s: float,
    *,
    week: int = 0,
    file_format: str = "csv",
    seed: int = 7,
) -> int:
    """Write a log of each pump, so many weeks after 2026-W47; return the number of samples."""
    logs.mkdir()
    n_samples = 0
    for n in range(n_pumps):
        table = pump_week(n, interval_s, np.random.default_rng([seed, n]), week)
        n_samples += table.num_rows
        path = logs / f"P-{n:05d}__{week:02d}.{file_format}"
        if file_format == "csv":
            pyarrow.csv.write_csv(table, path)
        else:
            pyarrow.parquet.write_table(table, path, compression="zstd")
    return n_samples


def pump_week(number: int, interval_s: float, rng: np.random.Generator, week: int = 0) -> pa.Table:
    """One pump's week of samples, columns as the log contract names them."""
    n = int(7 * DAY_US / 1e6 / interval_s)
    ts_us = MONDAY_US + 7 * DAY_US * week + (np.arange(n) * interval_s * 1e6).astype(np.int64)
    running = _running(n, interval_s, is_cycler=number % 12 == 0, rng=rng)
    noise = _smooth(rng.normal(size=n))
    frequency = np.where(running, 44 + 4 * noise, 0.0)
    return pa.table(
        {
            "timestamp": pa.array(ts_us, pa.timestamp("us", "UTC")),
            "pressure_psi": np.round(np.where(running, 60.0, 58.0) + 0.5 * noise, 1),
            "frequency_hz": np.round(frequency, 1),
            "current_a": np.round(np.where(running, 4.2 + 0.3 * noise, 0.0), 1),
            "voltage_v": np.round(239 - 3 * running + noise, 1),
        }
    )


def _running(
    n: int, interval_s: float, *, is_cycler: bool, rng: np.random.Generator
) -> NDArray[np.bool_]:
    run_s, stop_s = (20, 70) if is_cycler else (120, 600)
    n_cycles = int(n * interval_s / (run_s + stop_s)) * 2 + 10
    lengths = np.empty(2 * n_cycles, dtype=np.int64)
    lengths[0::2] = 1 + rng.exponential(stop_s, n_cycles) / interval_s
    lengths[1::2] = 1 + rng.exponential(run_s, n_cycles) / interval_s
    return np.repeat(np.arange(2 * n_cycles) % 2 == 1, lengths)[:n]


def _smooth(white: NDArray[np.float64]) -> NDArray[np.float64]:
    kernel = np.ones(8) / np.sqrt(8)
    return np.convolve(white, kernel, mode="same")


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.argument("pumps", type=int)
@click.argument("interval_s", type=float)
@click.argument("file_format", type=click.Choice(["csv", "parquet"]))
@click.option("--week", default=0, help="Weeks after the first.")
@click.option("--weeks", default=0, help="So many weeks from the first, as FOLDER/0 and so on.")
def main(
    folder: Path, pumps: int, interval_s: float, file_format: str, week: int, weeks: int
) -> None:
    """Write a fleet's register and logs of one week, or logs alone of several."""
    if not weeks:
        make_register(folder / "register", pumps)
        make_week(folder / "logs", pumps, interval_s, week=week, file_format=file_format)
    for number in range(weeks):
        logs = folder / f"{number}"
        make_week(logs, pumps, interval_s, week=number, file_format=file_format)


if __name__ == "__main__":
    main()

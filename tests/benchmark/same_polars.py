"""What polars users would write for runs, starts, slopes and voltage statistics of logs.

    python tests/benchmark/same_polars.py LOGS OUT

Two files a thread at a time, read and then measured by the in-memory engine. That was the fastest
of what was tried: scanning lazily through to the figures reads a file once for each of its plan's
branches (2 times as long), and the streaming engine took 2 to 4 times as long. Instants are cut to
their whole seconds before they are parsed, which spares a third of the reading.
"""

import json
import sys
from pathlib import Path

import polars as pl

ON_ABOVE_HZ = 1.0
SETTLE_S = 10.0
STOP_SETTLE_S, STOP_SETTLE_SHARE, SLOPE_SAMPLES = 5.0, 0.25, 5
KPA_PER_PSI = 6.894757293168361
CHANNELS = ("pressure_psi", "frequency_hz", "current_a", "voltage_v")
FLOATS = dict.fromkeys(CHANNELS, pl.Float32)
QUANTILES = {"p05": 0.05, "median": 0.5, "p95": 0.95}

TIME, VOLTS, AMPS = pl.col("timestamp"), pl.col("voltage_v"), pl.col("current_a")
IS_ON, LENGTH_S, SINCE_S = pl.col("is_on"), pl.col("length_s"), pl.col("since_s")


def read(path: Path) -> pl.LazyFrame:
    if path.suffix == ".parquet":
        return pl.scan_parquet(path).with_columns(pl.col(CHANNELS).cast(pl.Float32))
    instant = TIME.str.slice(0, 19).str.to_datetime(
        "%Y-%m-%d %H:%M:%S", time_unit="us", cache=False
    )
    return pl.scan_csv(path, schema={"timestamp": pl.String, **FLOATS}).with_columns(instant)


def measure(log: pl.LazyFrame) -> pl.LazyFrame:
    log = log.with_columns(
        is_on=pl.col("frequency_hz") > ON_ABOVE_HZ,
        next_at=TIME.shift(-1).fill_null(TIME.last() + TIME.diff().median()),
    ).with_columns(segment=IS_ON.rle_id())
    segments = (
        log.group_by("segment", maintain_order=True)
        .agg(
            IS_ON.first(),
            from_at=TIME.first(),
            length_s=_seconds(pl.col("next_at").last() - TIME.first()),
            max_a=AMPS.max(),
        )
        .with_columns(is_whole=pl.int_range(pl.len()).is_between(1, pl.len() - 2))
    )
    log = log.join(segments.drop("is_on", "max_a"), on="segment", maintain_order="left")
    log = log.with_columns(since_s=_seconds(TIME - pl.col("from_at")))
    return pl.concat(
        [of_segments(segments), of_samples(log), of_slopes(slopes_kpa_per_min(log))],
        how="horizontal",
    )


def of_segments(segments: pl.LazyFrame) -> pl.LazyFrame:
    run_s = LENGTH_S.filter(IS_ON & pl.col("is_whole"))
    return segments.select(
        n_starts=IS_ON.slice(1).sum(),
        run_s=LENGTH_S.filter(IS_ON).sum(),
        run_s_longest=LENGTH_S.filter(IS_ON).max(),
        run_s_median=run_s.median(),
        run_s_p90=run_s.quantile(0.9, "linear"),
        stop_s_median=LENGTH_S.filter(~IS_ON & pl.col("is_whole")).median(),
        run_max_a_median=pl.col("max_a").filter(IS_ON).median(),
        run_max_a_highest=pl.col("max_a").filter(IS_ON).max(),
    )


def of_samples(log: pl.LazyFrame) -> pl.LazyFrame:
    idle_v = VOLTS.filter(~IS_ON)
    settled_v = VOLTS.filter(IS_ON & (SINCE_S >= SETTLE_S) & (SINCE_S > 0))
    amps, volts = AMPS.filter(IS_ON).cast(pl.Float64), VOLTS.filter(IS_ON).cast(pl.Float64)
    slope = pl.cov(amps, volts) / amps.var()
    return log.select(
        *(idle_v.quantile(q, "equiprobable").alias(f"idle_v_{p}") for p, q in QUANTILES.items()),
        *(
            settled_v.quantile(q, "equiprobable").alias(f"running_v_{p}")
            for p, q in QUANTILES.items()
        ),
        volts_per_a=slope,
        volts_at_0_a=volts.mean() - slope * amps.mean(),
    )


def slopes_kpa_per_min(log: pl.LazyFrame) -> pl.LazyFrame:
    settle_s = pl.min_horizontal(LENGTH_S * STOP_SETTLE_SHARE, STOP_SETTLE_S)
    t, y = SINCE_S, pl.col("pressure_psi").cast(pl.Float64)
    n, sum_t, sum_y = pl.col("n"), pl.col("t"), pl.col("y")
    per_s = (n * pl.col("ty") - sum_t * sum_y) / (n * pl.col("tt") - sum_t.pow(2))
    return (
        log.filter(~IS_ON & pl.col("is_whole") & SINCE_S.ge(settle_s))
        .group_by("segment")
        .agg(n=pl.len(), t=t.sum(), y=y.sum(), tt=(t * t).sum(), ty=(t * y).sum())
        .filter(n >= SLOPE_SAMPLES)
        .select(slope=-per_s * KPA_PER_PSI * 60.0)
    )


def of_slopes(slopes: pl.LazyFrame) -> pl.LazyFrame:
    slope = pl.col("slope")
    return slopes.select(
        n_slopes=pl.len(),
        slope_p10_kpa_per_min=slope.quantile(0.1, "linear"),
        slope_p50_kpa_per_min=slope.quantile(0.5, "linear"),
        slope_p90_kpa_per_min=slope.quantile(0.9, "linear"),
    )


def _seconds(duration: pl.Expr) -> pl.Expr:
    return duration.dt.total_microseconds() / 1e6


def main(logs: Path, out: Path) -> None:
    paths = sorted(logs.iterdir())
    found = {}
    for some in batched(paths, 2 * pl.thread_pool_size()):
        read_logs = pl.collect_all([read(path) for path in some])
        measured = pl.collect_all([measure(log.lazy()) for log in read_logs])
        for path, one in zip(some, measured, strict=True):
            found[path.name.split("__")[0]] = one.row(0, named=True)
    out.write_text(json.dumps(found))


def batched(paths: list[Path], n: int) -> list[list[Path]]:
    return [paths[at : at + n] for at in range(0, len(paths), n)]


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:]))

"""Writing, size and reading of run files: the ten-million-reading set and a busy bench."""

import math
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import apsw
import numpy as np
from numpy.typing import NDArray

from logger.store.folder.catalog import Catalog
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import (
    ChannelRecord,
    Chunk,
    RunHeader,
    RunView,
    RunWriter,
    StoredReading,
    WriteBatch,
)

CHANNELS, READINGS = 16, 625_000
PERIOD_US, JITTER_US = 100_000, 4_700
"""10 Hz with the jitter of a USB bridge that hands bytes on every 16 ms."""
BATCH = 4_000


def header(run_id: str, channels: int = CHANNELS) -> RunHeader:
    """Return a header with channels ``c0``, ``c1``... of one instrument."""
    return RunHeader(
        run_id=run_id,
        sheet_json="",
        sheet_text='[sheet]\nname = "Smoked beet and barley roll"\n',
        bench_json="",
        bench_text="",
        started_utc_ns=1_795_594_382_000_000_000,
        channels=tuple(
            ChannelRecord(f"c{n}", "probes", f"t{n}", "other", "degC") for n in range(channels)
        ),
    )


def channel_of(seed: int) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Return stamps [ns] and values of one channel: slow swings, drift, noise, 0.01 steps."""
    random = np.random.default_rng(seed)
    t_us = np.arange(READINGS) * PERIOD_US + random.normal(0, JITTER_US, READINGS).astype(int)
    at = np.arange(READINGS)
    value = 45 + 8 * np.sin(at / (6000 + 500 * seed)) + np.cumsum(random.normal(0, 0.004, READINGS))
    return np.sort(t_us) * 1000, np.round(value + random.normal(0, 0.02, READINGS), 2)


def quantiles(seconds: list[float]) -> str:
    """Return p50, p95 and max in milliseconds."""
    ms = np.array(seconds) * 1000
    p50, p95 = np.percentile(ms, [50, 95])
    return f"p50 {p50:.2f} ms, p95 {p95:.2f} ms, max {ms.max():.1f} ms"


def best(work: Callable[[], object], times: int = 5) -> float:
    """Return the shortest of a few runs [s]."""
    found = math.inf
    for _ in range(times):
        start = time.perf_counter()
        work()
        found = min(found, time.perf_counter() - start)
    return found


def set_of_ten_million(folder: Path) -> Iterator[str]:
    """Write, compact, measure and read the set of BENCH: 16 channels of 625 000 readings."""
    path = folder / "set.run"
    columns = [channel_of(seed) for seed in range(CHANNELS)]
    file = RunWriter.create(path, header("set"))
    write_s = compact_s = 0.0
    for start in range(0, READINGS, BATCH):
        cut = slice(start, start + BATCH)
        for number, (t_ns, value) in enumerate(columns):
            rows = [
                StoredReading(f"c{number}", t, v)
                for t, v in zip(t_ns[cut].tolist(), value[cut].tolist(), strict=True)
            ]
            begun = time.perf_counter()
            file.write(WriteBatch(readings=rows))
            write_s += time.perf_counter() - begun
        begun = time.perf_counter()
        file.compact()
        compact_s += time.perf_counter() - begun
    begun = time.perf_counter()
    file.finish(None, 1)
    finish_s = time.perf_counter() - begun
    total = CHANNELS * READINGS
    size = path.stat().st_size
    yield f"insert: {total / write_s:,.0f} rows/s in transactions of {BATCH} (synchronous FULL)"
    yield f"compaction: {total / compact_s:,.0f} rows/s; end of the run {finish_s:.1f} s"
    yield f"size: {size / 1e6:.1f} MB for {total:,} readings"
    yield f"bytes per reading after compaction: {size / total:.2f} (floor 4), of which"
    with apsw.Connection(str(path), flags=apsw.SQLITE_OPEN_READONLY) as db:
        for name, sql in (
            ("columns", "SELECT sum(length(data)) FROM block JOIN blob ON blob.id = columns"),
            ("pyramid", "SELECT sum(length(data) + length(coarse)) FROM block "
                        "JOIN blob ON blob.id = fine"),
        ):  # fmt: skip
            yield f"    {name}: {db.execute(sql).get / total:.2f}"
    view = RunView.open(path)
    t_ns, value = columns[7]
    series = view.readings("c7")
    exact = (series.value == value).all() and (series.t_ns == t_ns).all()
    yield f"one channel read back exactly: {bool(exact)}"
    yield f"one channel, {READINGS:,} readings: {best(lambda: view.readings('c7')) * 1e3:.1f} ms"
    hour = 3600 * 10**9
    part = best(lambda: view.readings("c7", 8 * hour, 8 * hour + hour // 6))
    yield f"ten minutes of it: {part * 1e3:.1f} ms"
    for points in (100, 1000, 4000):
        took = best(lambda points=points: view.overview("c7", points=points))
        yield f"overview of one channel in {points} points: {took * 1e3:.2f} ms"
    took = best(lambda: [view.overview(f"c{n}", points=1000) for n in range(CHANNELS)])
    yield f"overview of all {CHANNELS} channels in 1000 points: {took * 1e3:.1f} ms"


def busy_bench(folder: Path) -> Iterator[str]:
    """Commit 16 lines with their readings every 0.2 s of the axis, as the recorder does."""
    path = folder / "busy.run"
    commits: list[float] = []
    compactions: list[float] = []
    raw = 0
    columns = [channel_of(seed)[1].tolist() for seed in range(CHANNELS)]
    with RunWriter.create(path, header("busy")) as file:
        for tick in range(3000):
            batch = WriteBatch()
            for n in range(2):
                t_ns = (tick * 2 + n) * PERIOD_US * 1000
                row = tick * 2 + n
                line = ",".join(f"{column[row]:.2f}" for column in columns).encode() + b"\r\n"
                batch.chunks.append(Chunk("probes", t_ns, "data", line))
                batch.readings += [
                    StoredReading(f"c{c}", t_ns, column[row]) for c, column in enumerate(columns)
                ]
                raw += len(line)
            start = time.perf_counter()
            file.write(batch)
            commits.append(time.perf_counter() - start)
            start = time.perf_counter()
            file.compact()
            compactions.append(time.perf_counter() - start)
        file.finish(None, 1)
    size, rows = path.stat().st_size, 3000 * 2 * CHANNELS
    with apsw.Connection(str(path), flags=apsw.SQLITE_OPEN_READONLY) as db:
        kept = db.execute("SELECT sum(length(data)) FROM chunk_block").get
    yield f"commit, 32 readings and their raw bytes: {quantiles(commits)}"
    yield f"compaction call: {quantiles(compactions)}"
    yield f"ten minutes of 16 x 10 Hz with raw bytes: {size / rows:.2f} bytes per reading"
    yield f"    raw bytes: {kept / rows:.2f} per reading ({raw / kept:.1f} times smaller than sent)"


def thousand_runs(folder: Path) -> Iterator[str]:
    """List a thousand runs."""
    data = DataFolder(folder / "data")
    template = folder / "one.run"
    with RunWriter.create(template, header("one", 2)) as file:
        rows = [StoredReading(f"c{n % 2}", n * 10**8, n / 100) for n in range(2000)]
        file.write(WriteBatch(readings=rows))
        file.finish(None, 1)
    body = template.read_bytes()
    for n in range(1000):
        data.run_path(f"20261125-{n:04d}-beef").write_bytes(body)
    catalog = Catalog(data)
    start = time.perf_counter()
    count = len(catalog.runs())
    yield f"list of {count} runs, made anew: {time.perf_counter() - start:.2f} s"
    yield f"list of {count} runs, known: {best(catalog.runs) * 1e3:.0f} ms (floor 300)"
    took = best(lambda: catalog.runs(text="barley beef", outcome="accepted"))
    yield f"search in it: {took * 1e3:.0f} ms"


def main() -> None:
    """Print all measurements of the store."""
    with tempfile.TemporaryDirectory() as place:
        for part in (busy_bench, thousand_runs, set_of_ten_million):
            for line in part(Path(place)):
                print(line, flush=True)

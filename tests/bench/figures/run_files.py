"""Run files of virtual batches, written without waiting for them; for tests and figures of pages.

The engine judges the readings as it judges a recorded run's; raw bytes are left out.
"""

from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from logger.correct.channel import Corrector
from logger.model.bench import Bench
from logger.model.event import Event
from logger.model.finding import Results
from logger.model.sheet import Sheet
from logger.store.run.records import ChannelRecord, RunHeader, StoredReading, WriteBatch
from logger.store.run.runfile import RunWriter
from logger.virtual.readings.simulate import SimulatedRun, simulate
from tests.bench.figures.virtual_runs import DAY, corrected_traces, engine_results, files_of
from tests.virtual.operator_events import operator_events

START_NS = 1_795_594_382_000_000_000


class Judged(NamedTuple):
    """A virtual batch with what the engine found in it."""

    run: SimulatedRun
    sheet: Sheet
    bench: Bench
    results: Results


def judge(seed: int, causes: tuple[str, ...] = (), *, rate_hz: float | None = None) -> Judged:
    """Simulate a short batch and judge it."""
    run = simulate(seed, causes, (), short=True, rate_hz=rate_hz)
    sheet, bench = files_of(run)
    traces = corrected_traces(run, bench)
    correctors = {c.id: Corrector(c, DAY) for c in bench.channel}
    return Judged(run, sheet, bench, engine_results(run, sheet, bench, traces, correctors))


def write(
    folder: Path,
    run_id: str,
    judged: Judged,
    *,
    warmer_k: float = 0.0,
    started_utc_ns: int = START_NS,
) -> None:
    """Write it as an ended run.

    Parameters
    ----------
    folder : Path
        Data folder.
    warmer_k : float
        Added to each temperature, so that several runs can be made of one [K].
    started_utc_ns : int
        When it began [ns since 1970].
    """
    run, sheet, bench, results = judged
    header = RunHeader(
        run_id=run_id,
        sheet_json=sheet.model_dump_json(by_alias=True),
        sheet_text="",
        bench_json=bench.model_dump_json(by_alias=True),
        bench_text="",
        started_utc_ns=started_utc_ns,
        channels=tuple(
            ChannelRecord(c.id, c.instrument, c.field, c.role, c.unit) for c in bench.channel
        ),
    )
    (folder / "runs").mkdir(parents=True, exist_ok=True)
    with RunWriter.create(folder / "runs" / f"{run_id}.run", header) as file:
        file.write(WriteBatch(readings=_readings(judged, warmer_k), events=_events(run)))
        ended_ns = started_utc_ns + round(run.truth["end_s"] * 1e9)
        file.set_outcome(run.truth["outcome"], tuple(run.truth["defects"]), "")
        file.finish(results, ended_ns)


def _readings(judged: Judged, warmer_k: float) -> list[StoredReading]:
    found = []
    for channel in judged.bench.channel:
        trace = judged.run.channels[channel.id]
        value = trace.value + (warmer_k if channel.unit == "degC" else 0.0)
        t_ns = np.round(trace.t_s * 1e6).astype(np.int64) * 1000
        found += [
            StoredReading(channel.id, t, round(v, 3) if v == v else None)
            for t, v in zip(t_ns.tolist(), value.tolist(), strict=True)
        ]
    return sorted(found, key=lambda reading: reading.t_ns)


def _events(run: SimulatedRun) -> list[Event]:
    spoken: list[Any] = [e for e in operator_events(run) if e.kind in ("mark", "note")]
    return spoken

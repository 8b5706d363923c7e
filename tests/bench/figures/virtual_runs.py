"""Virtual runs judged by the real engine, in memory; no ports, no files. Used by ``why``."""

import datetime
import pickle
from pathlib import Path

import numpy as np

from logger.correct.channel import Corrector
from logger.model.bench import Bench
from logger.model.event import Event
from logger.model.files import bench_from_text, sheet_from_text
from logger.model.finding import Results
from logger.model.reading import Reading
from logger.model.sheet import Sheet
from logger.recorder.live.pipeline import Pipeline
from logger.review.features.facts import RunFacts
from logger.review.trace import Trace
from logger.science.fats.fatfile import builtin_fats
from logger.virtual.lines.bench_file import bench_text, sheet_text
from logger.virtual.lines.printed import Printer
from logger.virtual.readings.simulate import SimulatedRun, simulate, wirings_of
from logger.wire.shapes.shape import builtin_shapes
from tests.virtual.operator_events import operator_events

DAY = datetime.date(2026, 11, 25)
FATS = builtin_fats()


def judged(
    seed: int,
    causes: tuple[str, ...] = (),
    faults: tuple[str, ...] = (),
    *,
    short: bool = False,
    rate_hz: float | None = None,
    kept: Path | None = None,
    by_piece: bool = False,
) -> tuple[RunFacts, SimulatedRun]:
    """Simulate a batch, let the engine judge it and return what the review takes.

    What the engine found is taken from the file `kept` if that exists, and written there otherwise.
    With `by_piece` the cook says which pieces have a defect.
    """
    run = simulate(seed, causes, faults, short=short, rate_hz=rate_hz)
    sheet, bench = files_of(run)
    traces = corrected_traces(run, bench)
    correctors = {c.id: Corrector(c, DAY) for c in bench.channel}
    if kept is not None and kept.is_file():
        results = pickle.loads(kept.read_bytes())  # noqa: S301 - our own file
    else:
        results = engine_results(run, sheet, bench, traces, correctors)
        if kept is not None:
            kept.write_bytes(pickle.dumps(results))

    def read(channel: str, from_ns: int, to_ns: int) -> Trace:
        trace = traces[channel]
        low, high = np.searchsorted(trace.t_ns, (from_ns, to_ns + 1))
        return Trace(*(part[low:high] for part in trace))

    return RunFacts(
        run_id=f"{seed}{'s' if short else 'f'}",
        sheet=sheet,
        bench=bench,
        results=results,
        outcome=run.truth["outcome"],
        defects=tuple(run.truth["defects"]),
        read=read,
        fats=FATS,
        piece_defects=_said(run) if by_piece else {},
    ), run


def _said(run: SimulatedRun) -> dict[int, tuple[str, ...]]:
    return {int(n): tuple(d) for n, d in run.truth["piece_defects"].items()}


def files_of(run: SimulatedRun, day: datetime.date = DAY) -> tuple[Sheet, Bench]:
    """Return the sheet and the bench of a virtual run, read as files are."""
    shapes = builtin_shapes()
    printers = [(Printer(w, shapes[w.shape], run), f"/dev/virtual_{w.id}") for w in wirings_of(run)]
    sheet = sheet_from_text(sheet_text(run), "virtual.sheet.toml")
    return sheet, bench_from_text(bench_text(run, printers, day), "virtual bench.toml")


def corrected_traces(run: SimulatedRun, bench: Bench, day: datetime.date = DAY) -> dict[str, Trace]:
    """Return every channel as degC or g, corrected by the bench file."""
    found = {}
    for channel in bench.channel:
        trace = run.channels[channel.id]
        value, u = Corrector(channel, day).values(trace.value, None, channel.unit)
        found[channel.id] = Trace(
            t_ns=np.round(trace.t_s * 1e9).astype(np.int64),
            value=value,
            u=np.broadcast_to(u, value.shape),
            flags=trace.flags.astype(np.int32),
        )
    return found


def engine_results(
    run: SimulatedRun,
    sheet: Sheet,
    bench: Bench,
    traces: dict[str, Trace],
    correctors: dict[str, Corrector],
) -> Results:
    """Feed the engine with all readings and what the operator said; return what it found."""
    spoken = [e for e in operator_events(run) if e.kind != "outcome"]
    start = Event(t_ns=0, kind="run_start", source="operator", text=sheet.sheet.name)
    pipeline = Pipeline(sheet, bench, correctors, FATS, hold_back_ns=0)
    pipeline.offer([start, *spoken, *readings_of(traces)])
    return pipeline.finish(round(run.truth["end_s"] * 1e9))[1]


def readings_of(traces: dict[str, Trace]) -> list[Reading]:
    """Return all corrected readings in time order."""
    readings: list[Reading] = []
    for channel, trace in traces.items():
        usable = np.isfinite(trace.value)
        readings += [
            Reading(channel, t_ns, value if ok else None, u, flags)
            for t_ns, value, ok, u, flags in zip(
                trace.t_ns.tolist(), trace.value.tolist(), usable.tolist(), trace.u.tolist(),
                trace.flags.tolist(), strict=True,
            )
        ]  # fmt: skip
    readings.sort(key=lambda r: r.t_ns)
    return readings

"""A virtual bench, a recorder process, the cook's words, and somebody who watches the state."""

import math
import threading
from dataclasses import dataclass, field
from pathlib import Path

from logger.control.client import Client, RefusedError
from logger.model.bench import PortSettings
from logger.model.reading import RawReading
from logger.model.state import ChannelView, PortRow, RecorderRow, State
from logger.recorder.launch import start_process
from logger.store.folder.datafolder import DataFolder
from logger.virtual.lines.printed import Printer
from logger.virtual.process import BenchProcess
from logger.virtual.readings.simulate import SimulatedRun, wirings_of
from logger.wire.reader import LineReader
from logger.wire.shapes.shape import builtin_shapes

LOOK_S = 0.1


@dataclass(slots=True)
class Look:
    """The state at one moment, as a screen gets it."""

    t_s: float
    channels: dict[str, ChannelView]
    ports: dict[str, PortRow]
    alarms: list[tuple[str | None, str]]
    recorder: RecorderRow


@dataclass(slots=True)
class Watched:
    """A recorded batch and what was seen meanwhile."""

    folder: Path
    path: Path
    run: SimulatedRun
    looks: list[Look] = field(default_factory=list)
    offset_s: float = -math.inf
    """Time of the run less time of the batch [s]."""

    def between(self, from_s: float, to_s: float) -> list[Look]:
        """Return the looks in a span of the batch."""
        return [k for k in self.looks if from_s <= k.t_s - self.offset_s <= to_s]


def watched_batch(folder: Path, faults: list[str], *, speed: float, seed: int = 4) -> Watched:
    """Record one short batch with faults and return what was seen and where the file is."""
    bench = BenchProcess(folder, seed=seed, speed=speed, short=True, faults=faults)
    bench_file, sheet_file = folder / "bench.toml", folder / "roll.sheet.toml"
    bench_file.write_text(bench.bench_text())
    sheet_file.write_text(bench.sheet_text())
    with bench, Client(folder / "data") as client:
        process = start_process(folder / "data", bench_file, sheet_file, speed=speed)
        try:
            bench.restart()
            run_id = str(client.send("start")["run"])
            seen = Watched(folder, DataFolder(folder / "data").run_path(run_id), bench.run)
            words = [w for w in bench.operator_script() if w[1] not in ("outcome", "run_end")]
            pause = threading.Event()
            while bench.now_s < bench.end_s:
                state = client.state()
                # A state is as old as it took to come: the youngest of all tells best.
                seen.offset_s = max(seen.offset_s, state.t_s - bench.now_s)
                seen.looks.append(_look(state))
                while words and words[0][0] <= bench.now_s:
                    _, kind, data = words.pop(0)
                    try:
                        client.send(kind, **data)
                    except RefusedError:
                        continue
                pause.wait(LOOK_S)
            client.send("run_end")
        finally:
            process.terminate()
            try:
                process.wait(60)
            finally:
                if process.stderr is not None:
                    process.stderr.close()
    return seen


def _look(state: State) -> Look:
    return Look(
        state.t_s,
        {c.id: c for c in state.channels},
        {p.instrument: p for p in state.ports},
        [(a.channel, a.text) for a in state.alarms if not a.state.startswith("normal")],
        state.recorder,
    )


def sent_values(run: SimulatedRun) -> dict[str, list[tuple[float, float | None]]]:
    """Return what each channel's instrument said, sample by sample: (time [s], value as sent).

    Read back from the very bytes that it prints, before faults of the line.
    """
    sent: dict[str, list[tuple[float, float | None]]] = {}
    for wiring in wirings_of(run):
        shape = builtin_shapes()[wiring.shape]
        printer = Printer(wiring, shape, run)
        reader = LineReader(shape, settings=PortSettings(), delay_s=0.0)
        reader.reset(-1_000_000_000)
        for number in range(len(run.full[wiring.channels[0]].t_s)):
            line = printer.line(number)
            if shape.ask != "none":
                line = printer.reply(shape.ask.send.encode(), number)
            said = {
                r.field: r.value
                for r in reader.feed(line, number * 1_000_000)
                if isinstance(r, RawReading)
            }
            for channel in wiring.channels:
                if printer.field_of[channel] in said:
                    value = said[printer.field_of[channel]]
                    sent.setdefault(channel, []).append((printer.time_s(number), value))
    return sent

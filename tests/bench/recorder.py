"""The recorder under load: lines a second into the file, processor time, arrival stamps."""

import contextlib
import os
import random
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import tty
import urllib.request
from pathlib import Path

import psutil

from logger.control.client import Client
from logger.model.files import bench_from_text
from logger.model.reading import RawReading
from logger.recorder.launch import start_process
from logger.recorder.live.clocks import today
from logger.recorder.live.wiring import Wiring, channel_records
from logger.recorder.process import ease_collector
from logger.store.run.records import Chunk, RunHeader, StoredReading, WriteBatch
from logger.store.run.runfile import RunView, RunWriter
from logger.wire.reader import reader_of
from logger.wire.shapes.shape import builtin_shapes

SHAPE = "flag-first comma weight"
PORTS = 16
RATE_HZ = 10.0
SECONDS = 30.0
SHEET = """
[sheet]
name = "Load"

[[stage]]
id = "skin"
kind = "set"
"""


def bench_of(ports: list[str]) -> str:
    """Return a bench file with one scale on each port; the first is the bath scale."""
    parts = []
    for n, port in enumerate(ports):
        role = "bath_scale" if n == 0 else "bench_scale"
        parts.append(
            f'[[instrument]]\nid = "s{n}"\nport = "{port}"\nshape = "{SHAPE}"\n'
            f'[[channel]]\nid = "c{n}"\ninstrument = "s{n}"\nfield = "mass"\nrole = "{role}"\n'
            'resolution = 0.1\nsensor = { kind = "balance", linearity = "0.2 g" }\n'
        )
    return "\n".join(parts)


def lines_per_second(
    lines: int = 1_000_000, *, correcting: bool = True, different: int | None = None
) -> None:
    """Framing, parsing, perhaps correction, and store of one fast instrument, on one thread.

    ``different``: so many different lines in turn; None is a load that stands on the scale with
    0.3 g of noise, so that lines come again, as from a real scale.
    """
    ease_collector()  # as the recorder's process does
    bench = bench_from_text(bench_of(["/dev/none"]), "bench")
    shapes = builtin_shapes()
    wiring = Wiring(bench, shapes, today())
    reader = reader_of(bench.instrument[0], shapes[SHAPE])
    per_chunk, per_batch = 50, 20_000
    noise = random.Random(1)
    masses_g = (
        [2618.0 + noise.gauss(0.0, 0.3) for _ in range(lines)]
        if different is None
        else [n % different / 10 for n in range(lines)]
    )
    chunks = [
        b"".join(b"ST,GS,+%8.1f  g\r\n" % m for m in masses_g[start : start + per_chunk])
        for start in range(0, lines, per_chunk)
    ]
    with tempfile.TemporaryDirectory() as scratch:
        header = RunHeader(
            run_id="20261125-0000-0000", sheet_json="", sheet_text=SHEET,
            bench_json=bench.model_dump_json(by_alias=True), bench_text="", started_utc_ns=0,
            channels=channel_records(bench, shapes),
        )  # fmt: skip
        file = RunWriter.create(Path(scratch) / "20261125-0000-0000.run", header)
        began, used = time.perf_counter(), time.process_time()
        batch = WriteBatch()
        for n, data in enumerate(chunks):
            t_ns = n * per_chunk * 100_000
            batch.chunks.append(Chunk("s0", t_ns, "data", data))
            if correcting:
                taken, _ = wiring.take("s0", "data", data, t_ns)
                batch.readings += [
                    StoredReading(t.reading.channel, t.reading.t_ns, t.sent, t.reading.flags)
                    for t in taken
                ]
            else:
                batch.readings += [
                    StoredReading("c0", one.t_ns, one.value, one.flags)
                    for one in reader.feed(data, t_ns)
                    if isinstance(one, RawReading)
                ]
            if len(batch.readings) >= per_batch:
                file.write(batch)
                file.compact()
                batch = WriteBatch()
        file.write(batch)
        file.close()
        wall, cpu = time.perf_counter() - began, time.process_time() - used
    steps = "framing, parsing, correction, store" if correcting else "framing, parsing, store"
    kind = "a standing load" if different is None else f"{different} different lines"
    print(f"{steps}, compaction, {kind}: {lines / wall:,.0f} lines/s of wall, "
          f"{lines / cpu:,.0f} lines/s of one core ({lines:,} lines)")  # fmt: skip


class Feeders:
    """Pseudo-terminals that send a line at a steady rate and note when; one thread for all."""

    def __init__(self, count: int, rate_hz: float) -> None:
        self.masters, self.slaves, self.ports = [], [], []
        for _ in range(count):
            master, slave = os.openpty()
            tty.setraw(master)
            tty.setraw(slave)
            os.set_blocking(master, False)
            self.masters.append(master)
            self.slaves.append(slave)
            self.ports.append(os.ttyname(slave))
        self.rate_hz = rate_hz
        self.sent_ns: list[int] = []
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self) -> "Feeders":
        self._thread.start()
        return self

    def __exit__(self, *failure: object) -> None:
        self._stopping.set()
        self._thread.join()
        for handle in [*self.masters, *self.slaves]:
            os.close(handle)

    def _run(self) -> None:
        due = time.monotonic()
        while not self._stopping.wait(max(0.0, due - time.monotonic())):
            due += 1.0 / self.rate_hz
            number = len(self.sent_ns)
            self.sent_ns.append(time.monotonic_ns())
            for master in self.masters:
                with contextlib.suppress(BlockingIOError):
                    os.write(master, b"ST,GS,+%8.1f  g\r\n" % (number / 10))


def recorder_under_load(*, busy: bool) -> None:
    """Processor time of the recorder and lateness of its stamps, 16 ports x 10 Hz."""
    with tempfile.TemporaryDirectory() as scratch, Feeders(PORTS, RATE_HZ) as feeders:
        folder = Path(scratch)
        (folder / "bench.toml").write_text(bench_of(feeders.ports))
        (folder / "load.sheet.toml").write_text(SHEET)
        process = start_process(folder / "data", folder / "bench.toml", folder / "load.sheet.toml")
        burner = None
        if busy:
            burner = subprocess.Popen([sys.executable, "-c", "while True: sum(range(10000))"])
        try:
            with Client(folder / "data") as client:
                run_id = client.send("start")["run"]
                origin_ns = time.monotonic_ns()
                usage = psutil.Process(process.pid)
                before, began = sum(usage.cpu_times()[:2]), time.monotonic()
                first = len(feeders.sent_ns)
                threading.Event().wait(SECONDS)
                share = (sum(usage.cpu_times()[:2]) - before) / (time.monotonic() - began)
                rss_mb = usage.memory_info().rss / 1e6
                client.send("run_end")
        finally:
            if burner is not None:
                burner.kill()
                burner.wait()
            process.terminate()
            process.wait()
            if process.stderr is not None:
                process.stderr.close()
        with RunView.open(folder / "data" / "runs" / f"{run_id}.run") as view:
            origin_ns = view.anchors()[0].mono_ns - (view.anchors()[0].t_ns or 0)
            late_ms, missing = [], 0
            for n in range(PORTS):
                series = view.readings(f"c{n}")
                got = {round(v * 10): t for v, t in zip(series.value, series.t_ns, strict=True)}
                transit_ns = 18 * 10 / 9600 * 1e9
                numbers = [k for k in got if k > first + 1]
                missing += max(numbers) - min(numbers) + 1 - len(numbers)
                late_ms += [
                    (got[k] + origin_ns + transit_ns - feeders.sent_ns[k]) / 1e6 for k in numbers
                ]
        cuts = statistics.quantiles(late_ms, n=100)
        print(
            f"{PORTS} ports x {RATE_HZ:g} Hz, {SECONDS:g} s, other core "
            f"{'busy' if busy else 'idle'}: {share:.1%} of a core, {rss_mb:.0f} MB; "
            f"arrival stamp late p50 {cuts[49]:.2f} ms, p95 {cuts[94]:.2f} ms, "
            f"max {max(late_ms):.1f} ms; {missing} of {len(late_ms)} readings missing"
        )


def start_times() -> None:
    """Time to ``--help``."""
    took = []
    for _ in range(7):
        began = time.perf_counter()
        subprocess.run(
            [Path(sys.executable).parent / "bainlog", "--help"], capture_output=True, check=True
        )
        took.append(time.perf_counter() - began)
    print(f"bainlog --help: median {statistics.median(took):.2f} s, max {max(took):.2f} s of 7")


def demo_time() -> None:
    """Time from the command to a page that answers, with a first reading behind it."""
    took = []
    for _ in range(3):
        with tempfile.TemporaryDirectory() as scratch:
            folder = Path(scratch) / "data"
            began = time.perf_counter()
            demo = subprocess.Popen(
                [
                    Path(sys.executable).parent / "bainlog", "demo", "--no-browser", "--short",
                    "--port", "0", "--data", str(folder),
                ],
                stdout=subprocess.PIPE, text=True,
            )  # fmt: skip
            try:
                url = ""
                for line in demo.stdout or ():
                    if "http://" in line:
                        url = line[line.index("http://") :].strip()
                        break
                urllib.request.urlopen(url, timeout=20).read()  # noqa: S310 - our own loopback page
                with Client(folder) as client:
                    while not any(c.value is not None for c in client.state().channels):
                        threading.Event().wait(0.02)
                took.append(time.perf_counter() - began)
            finally:
                demo.terminate()
                demo.communicate()
    print(f"bainlog demo to a live page: median {statistics.median(took):.1f} s, "
          f"max {max(took):.1f} s of {len(took)}")  # fmt: skip


def main() -> None:
    """Print all."""
    start_times()
    demo_time()
    lines_per_second(correcting=False)
    lines_per_second(correcting=False, different=9000)
    lines_per_second(correcting=False, different=1_000_000)
    lines_per_second()
    recorder_under_load(busy=False)
    recorder_under_load(busy=True)

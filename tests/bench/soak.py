"""Hours of a full bench with random faults: memory, lost readings, the file, the screen.

16 instruments on pseudo-terminals, 2 readings a second each; the recorder's clock runs 20 times as
fast (``BAINLOG_SOAK_SPEED``). Each line's number is its mass, so that a hole shows; but the first
is a scale under a bath, with pieces in and out, whose last digit counts. ``BAINLOG_SOAK_HOURS``
shortens it.
"""

import contextlib
import fcntl
import os
import random
import statistics
import subprocess
import sys
import tempfile
import termios
import threading
import time
import tty
import urllib.request
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import psutil

from logger.control.client import Client
from logger.model.errors import BainlogError
from logger.recorder.launch import start_process
from logger.recorder.replay.replay import compare_raw
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView
from logger.wire.shapes.shape import builtin_shapes
from tests.bench.recorder import SHEET, bench_of

HOURS = float(os.environ.get("BAINLOG_SOAK_HOURS", "8"))
SPEED = float(os.environ.get("BAINLOG_SOAK_SPEED", "20"))
RATE_HZ, PORTS = 2.0, 16
FAULT_EVERY_S = 600.0
REOPEN_S = 4.0
"""After a replug lines may be lost until the port is open again [s of the wall]."""
MOST_GROWTH_MB = 25.0
LOOK_S = 1.0
PIECE_EVERY_S, DWELL_S, FIRST_S = 400.0, 480.0, 300.0
"""Pieces in the bath [s of the run]."""


def counting(number: int) -> float:
    """A mass that is the number of its line."""
    return float(number)


def bath_g(number: int) -> float:
    """A bath with a piece or two of 80 g in it; the last digit is that of the number."""
    t_s = number / RATE_HZ
    came = max(0, int((t_s - FIRST_S) // PIECE_EVERY_S) + 1)
    left = max(0, int((t_s - FIRST_S - DWELL_S) // PIECE_EVERY_S) + 1)
    return 5000.0 + 80.0 * (came - left) + number % 10 / 10


@dataclass
class Instrument:
    """A numbered scale behind a symlink that can be pulled, and what was lost on purpose."""

    link: Path
    mass: Callable[[int], float] = counting
    number: int = 0
    main: int = -1
    other: int = -1
    lost: set[int] = field(default_factory=set)
    out_until: float = 0.0
    opening_until: float = 0.0
    silent_until: float = 0.0
    faults: int = 0

    def numbers(self, masses: list[float]) -> list[int]:
        """Return the numbers of the lines that said these masses."""
        if self.mass is counting:
            return [round(m) for m in masses]
        found: list[int] = []
        for mass in masses:
            after = found[-1] + 1 if found else 1
            near = range(after, after + 10)
            if self.lost.intersection(near):
                near = range(after, after + 1_000)
            fitting = [n for n in near if abs(self.mass(n) - mass) < 0.01]
            number = next((n for n in fitting if n not in self.lost), min(fitting, default=None))
            if number is None:
                return []
            found.append(number)
        return found

    def plug(self) -> None:
        """Put a new pseudo-terminal behind the name."""
        self.main, self.other = os.openpty()
        tty.setraw(self.other)
        os.set_blocking(self.main, False)
        fresh = self.link.with_name(f".{self.link.name}")
        fresh.unlink(missing_ok=True)
        fresh.symlink_to(os.ttyname(self.other))
        fresh.replace(self.link)

    def pull(self) -> None:
        """Pull the plug."""
        self.link.unlink(missing_ok=True)
        for end in (self.main, self.other):
            with contextlib.suppress(OSError):
                os.close(end)
        self.main = self.other = -1

    def say(self, now: float, chance: random.Random) -> None:
        """Send the next line, or suffer the next fault."""
        if self.out_until:
            if now < self.out_until:
                return
            self.out_until, self.opening_until = 0.0, now + REOPEN_S
            self.plug()
        if now < self.silent_until:
            return
        self.number += 1
        line = b"ST,GS,+%8.1f  g\r\n" % self.mass(self.number)
        if now < self.opening_until:
            self.lost.add(self.number)
        if chance.random() < 1.0 / (FAULT_EVERY_S * RATE_HZ):
            line = self._fault(line, now, chance)
        if self.main < 0:
            return
        try:
            written = os.write(self.main, line) if line else 0
        except BlockingIOError:
            written = -1
        if written != len(line):
            self.lost |= {self.number, self.number + 1}

    def _unread(self) -> int:
        """Bytes that the recorder has not fetched; they go with the plug, as on a real adapter."""
        found = fcntl.ioctl(self.other, termios.FIONREAD, bytes(4))
        return int.from_bytes(found, sys.byteorder)

    def _fault(self, line: bytes, now: float, chance: random.Random) -> bytes:
        self.faults += 1
        kind = chance.choice(["pull", "silence", "garbage", "half", "nul", "flags"])
        if kind == "pull" and self.mass is bath_g:
            return line  # what is lost there could not be told from the last digit
        if kind == "pull":
            on_its_way = 2 + self._unread() // len(line)
            self.lost |= set(range(self.number - on_its_way, self.number + 2))
            self.out_until = now + chance.uniform(0.3, 3.0)
            self.pull()
            return b""
        if kind == "silence":
            self.silent_until = now + chance.uniform(0.3, 2.0)
        elif kind == "garbage":
            return bytes(chance.randrange(128, 256) for _ in range(chance.randrange(1, 300))) + (
                b"\r\n" + line
            )
        elif kind == "half":
            self.lost |= {self.number, self.number + 1}  # the rest runs into the next line
            return line[: chance.randrange(1, len(line) - 2)]
        elif kind == "nul":
            return b"\x00" + line
        elif kind == "flags":
            return b"OL,GS,+99999.9  g\r\n" + line
        return line


class Bench(threading.Thread):
    """All instruments, one thread."""

    def __init__(self, folder: Path) -> None:
        super().__init__(name="bench", daemon=True)
        folder.mkdir()
        self.instruments = [
            Instrument(folder / f"s{n}", bath_g if n == 0 else counting) for n in range(PORTS)
        ]
        for one in self.instruments:
            one.plug()
        self._stopping = threading.Event()
        self._chance = random.Random(20261125)

    def stop(self) -> None:
        """Say no more."""
        self._stopping.set()
        self.join()

    def run(self) -> None:
        """Say lines at their times."""
        due = time.monotonic()
        while not self._stopping.wait(max(0.0, due - time.monotonic())):
            due += 1.0 / (RATE_HZ * SPEED)
            now = time.monotonic()
            for one in self.instruments:
                one.say(now, self._chance)


def main() -> None:
    """Run, print, and end with 1 when something is wrong."""
    wrong: list[str] = []
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        bench = Bench(folder / "by-id")
        (folder / "bench.toml").write_text(bench_of([str(i.link) for i in bench.instruments]))
        (folder / "load.sheet.toml").write_text(SHEET)
        data = folder / "data"
        recorder = start_process(
            data, folder / "bench.toml", folder / "load.sheet.toml", speed=SPEED
        )
        screen, url = _screen(data)
        try:
            with Client(data) as client:
                run_id = str(client.send("start")["run"])
                bench.start()
                rss_mb, took_s, share = _watch(client, recorder.pid, url)
                bench.stop()
                threading.Event().wait(1.0)
                _end(client)
        finally:
            for process in (recorder, screen):
                process.terminate()
                process.wait(300)
            if recorder.stderr is not None:
                recorder.stderr.close()
        path = DataFolder(data).run_path(run_id)
        count, missing, pieces, size = _judge(path, bench.instruments, wrong)
    tenth = max(1, len(rss_mb) // 5)
    early, late = statistics.median(rss_mb[tenth : 2 * tenth]), statistics.median(rss_mb[-tenth:])
    if late - early > MOST_GROWTH_MB and HOURS > 2:  # it is level only after some filling up
        wrong.append(f"memory grew by {late - early:.0f} MB")
    page, state = (statistics.quantiles(t, n=20)[18] * 1e3 for t in took_s)
    faults = sum(i.faults for i in bench.instruments)
    print(
        f"{PORTS} instruments x {RATE_HZ:g} Hz, {HOURS:g} h at speed {SPEED:g}, {faults} faults: "
        f"{count:,} readings, {missing} lost that were sent whole, {pieces} pieces in the bath; "
        f"{size / 1e6:.1f} MB; recorder {early:.0f} MB early, {late:.0f} MB late, "
        f"{share:.0%} of a core; page p95 {page:.0f} ms, state p95 {state:.0f} ms"
    )
    print("nothing wrong" if not wrong else "WRONG: " + "; ".join(wrong))
    if wrong:
        sys.exit(1)


def _end(client: Client) -> None:
    """End the run, and wait until it has ended, however long that takes on a busy machine."""
    try:
        client.send("run_end")
    except BainlogError as slow:
        print(f"the end was slow: {slow}")
    pause, until = threading.Event(), time.monotonic() + 300.0
    while time.monotonic() < until:
        with contextlib.suppress(BainlogError):
            if client.state().phase != "recording":
                return
        pause.wait(1.0)


def _watch(
    client: Client, pid: int, url: str
) -> tuple[list[float], tuple[list[float], list[float]], float]:
    """Look at memory, page and state until the time is over."""
    rss_mb: list[float] = []
    page_s: list[float] = []
    state_s: list[float] = []
    usage, pause = psutil.Process(pid), threading.Event()
    began, used = time.monotonic(), sum(usage.cpu_times()[:2])
    while time.monotonic() - began < HOURS * 3600 / SPEED:
        began_s = time.perf_counter()
        client.state()
        state_s.append(time.perf_counter() - began_s)
        began_s = time.perf_counter()
        urllib.request.urlopen(url, timeout=30).read()  # noqa: S310 - our own loopback page
        page_s.append(time.perf_counter() - began_s)
        rss_mb.append(usage.memory_info().rss / 1e6)
        pause.wait(LOOK_S)
    share = (sum(usage.cpu_times()[:2]) - used) / (time.monotonic() - began)
    return rss_mb, (page_s, state_s), share


def _judge(
    path: Path, instruments: list[Instrument], wrong: list[str]
) -> tuple[int, int, int, int]:
    """Hold what is stored against what was sent; return readings, missing ones, pieces, bytes."""
    count = missing = 0
    with RunView.open(path) as view:
        if view.check() != "ok":
            wrong.append("the file is damaged")
        for number, one in enumerate(instruments):
            values = view.readings(f"c{number}").value
            numbers = one.numbers([float(v) for v in values[values == values]])
            count += len(numbers)
            if numbers != sorted(set(numbers)) or (numbers and numbers[-1] > one.number):
                wrong.append(f"c{number}: a reading that was not sent, or twice")
            wanted = set(range(numbers[0], one.number)) - one.lost if numbers else {0}
            gone = sorted(wanted - set(numbers))
            missing += len(gone)
            if gone:
                wrong.append(f"c{number}: {len(gone)} lost, such as {gone[:5]}")
        found = view.results()
        pieces = len(found.immersions) if found else 0
        differing = [d for d in compare_raw(view, builtin_shapes())
                     if d.differing or d.stored != d.from_raw]  # fmt: skip
    if differing:
        wrong.append(f"raw bytes say otherwise: {differing[0]}")
    return count, missing, pieces, path.stat().st_size


def _screen(data: Path) -> "tuple[subprocess.Popen[bytes], str]":
    code = (
        "import sys; from pathlib import Path; from dashboard.serve import serve; "
        "serve(Path(sys.argv[1]), port=0, say=lambda t: print(t, flush=True))"
    )
    process = subprocess.Popen([sys.executable, "-c", code, str(data)], stdout=subprocess.PIPE)
    line = process.stdout.readline().decode() if process.stdout is not None else ""
    return process, line[line.index("http://") :].strip()

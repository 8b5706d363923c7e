"""Faults that no virtual instrument can show: clock, disk, kill, power cut, restart.

Each with a real recorder on a scale over a pseudo-terminal.
"""

import contextlib
import dataclasses
import os
import random
import shutil
import signal
import subprocess
import tempfile
import threading
import time
import tty
from collections.abc import Callable, Iterator
from pathlib import Path
from unittest import mock

from logger.control.client import Client
from logger.ports.clock import Clock
from logger.recorder import writer
from logger.recorder.clocks import read_clocks
from logger.recorder.launch import start_process
from logger.recorder.session import Recorder
from logger.recorder.setup import setup_from_files
from logger.store.datafolder import DataFolder
from logger.store.runfile import RunView
from tests.faults.row import Row

INTERVAL_S = 0.02
MOST_LOST_S = 1.0
SHEET = '[sheet]\nname = "Bath only"\n[[stage]]\nid = "skin"\nkind = "set"\n'
BENCH = """
[[instrument]]
id = "scale"
port = "{port}"
shape = "flag-first comma weight"
[[channel]]
id = "bath_scale"
instrument = "scale"
field = "mass"
role = "bath_scale"
resolution = 0.1
sensor = {{ kind = "balance", linearity = "0.2 g" }}
"""


def counting(number: int) -> float:
    """A mass that is the number of its line, so that a hole shows."""
    return float(number)


class Scale:
    """Sends a line every 20 ms; when nobody reads, the line is gone, as on a real cable."""

    def __init__(self, mass_g: Callable[[int], float] = counting) -> None:
        self._main, self._other = os.openpty()
        tty.setraw(self._main)
        tty.setraw(self._other)
        os.set_blocking(self._main, False)
        self._mass_g = mass_g
        self.port = os.ttyname(self._other)
        self.sent = 0
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self) -> "Scale":
        self._thread.start()
        return self

    def __exit__(self, *failure: object) -> None:
        self._stopping.set()
        self._thread.join()
        os.close(self._main)
        os.close(self._other)

    def _run(self) -> None:
        due = time.monotonic()
        while not self._stopping.wait(max(0.0, due - time.monotonic())):
            due += INTERVAL_S
            self.sent += 1
            line = f"ST,GS,+{self._mass_g(self.sent):8.1f}  g\r\n".encode()
            with contextlib.suppress(BlockingIOError):
                os.write(self._main, line)


@dataclasses.dataclass
class Table:
    """A folder with a scale on it and the files for it."""

    folder: Path
    scale: Scale
    speed: float = 1.0

    @property
    def data(self) -> Path:
        """Data folder."""
        return self.folder / "data"

    def recorder(self) -> "subprocess.Popen[bytes]":
        """Start a recorder."""
        return start_process(
            self.data, self.folder / "bench.toml", self.folder / "x.sheet.toml", speed=self.speed
        )

    def values(self, run_id: str) -> list[float]:
        """Return what is stored."""
        with RunView.open(DataFolder(self.data).run_path(run_id)) as view:
            return list(view.readings("bath_scale").value.tolist())


@contextlib.contextmanager
def table(
    folder: Path, mass_g: Callable[[int], float] = counting, speed: float = 1.0
) -> Iterator[Table]:
    """Put a scale on a table."""
    with Scale(mass_g) as scale:
        (folder / "bench.toml").write_text(BENCH.format(port=scale.port))
        (folder / "x.sheet.toml").write_text(SHEET)
        yield Table(folder, scale, speed)


def until(look: Callable[[], object], what: str, within_s: float = 25.0) -> None:
    """Wait until something is true.

    Raises
    ------
    TimeoutError
        If it does not come true.
    """
    pause, end = threading.Event(), time.monotonic() + within_s
    while not look():
        if time.monotonic() > end:
            raise TimeoutError(f"{what} did not come true")
        pause.wait(0.02)


def end(process: "subprocess.Popen[bytes]") -> None:
    """Tell a recorder to stop."""
    process.terminate()
    process.wait(20)
    if process.stderr is not None:
        process.stderr.close()


def kill(process: "subprocess.Popen[bytes]") -> None:
    """Kill it as a power button would."""
    os.kill(process.pid, signal.SIGKILL)
    process.wait()
    if process.stderr is not None:
        process.stderr.close()


def _gapless(values: list[float]) -> bool:
    return len(values) > 0 and values == [values[0] + n for n in range(len(values))]


def clock_step(folder: Path) -> Row:
    """The computer's clock is put an hour forward, and it sleeps for two minutes: both injected."""
    row = Row(fault="clock step, suspend")
    hour_ns, slept_ns = 3_600_000_000_000, 120_000_000_000
    moved = threading.Event()

    def reading(clock: Clock, t_ns: int) -> object:
        found = read_clocks(clock, t_ns)
        if not moved.is_set():
            return found
        return found._replace(
            utc_ns=found.utc_ns + hour_ns + slept_ns, boottime_ns=found.boottime_ns + slept_ns
        )

    with (
        table(folder) as at,
        mock.patch.object(writer, "read_clocks", reading),
        mock.patch.object(writer, "ANCHOR_S", 0.3),
    ):
        place = DataFolder(at.data)
        setup = setup_from_files(place, folder / "bench.toml", folder / "x.sheet.toml")
        recorder = Recorder(place, setup, Clock())
        recorder.start()
        try:
            with Client(at.data) as client:
                run_id = client.send("start")["run"]
                until(lambda: len(at.values(run_id)) > 40, "readings")
                moved.set()
                count = len(at.values(run_id))
                until(lambda: len(at.values(run_id)) > count + 40, "readings after the step")
                client.send("run_end")
        finally:
            recorder.stop()
    with RunView.open(place.run_path(run_id)) as view:
        events = {e.kind: e for e in view.events()}
        series = view.readings("bath_scale")
    row.expect({"clock_step", "suspended"} <= set(events), "no event of the step or the sleep")
    if "clock_step" in events:
        row.expect(abs(events["clock_step"].data["by_s"] - 3600) < 1.0, "the step is wrong")
        row.seen = events["clock_step"].text
    steps_s = (series.t_ns[1:] - series.t_ns[:-1]) / 1e9
    row.expect(bool((steps_s > 0).all() and (steps_s < 1.0).all()), "the axis moved")
    row.expect(_gapless(series.value.tolist()), "readings are missing")
    row.held = f"clock_step, suspended; {len(steps_s) + 1} readings, the axis as it was"
    return row


def disk_full(folder: Path) -> Row:
    """A file system of 20 MB of its own, filled to the last byte."""
    row = Row(fault="disk full")
    small = folder / "small"
    small.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=20m", "tmpfs", str(small)]
    if subprocess.run(mount, capture_output=True, check=False).returncode:
        row.not_made = "cannot mount a small disk here: needs root"
        return row
    try:
        with table(folder) as at:
            at.folder = small
            for name in ("bench.toml", "x.sheet.toml"):
                shutil.copy(folder / name, small / name)
            process = at.recorder()
            try:
                _fill_and_free(row, at, small)
            finally:
                end(process)
    finally:
        subprocess.run(["umount", "-l", str(small)], check=False)
    return row


def _fill_and_free(row: Row, at: Table, small: Path) -> None:
    with Client(at.data) as client:
        run_id = client.send("start")["run"]
        until(lambda: len(at.values(run_id)) > 20, "readings")
        filler = small / "filler"

        def full() -> bool:
            with filler.open("ab", buffering=0) as out:
                for size in (1_000_000, 4_096, 1):
                    with contextlib.suppress(OSError):
                        while out.write(b"x" * size) == size:
                            pass
            return bool(client.state()["recorder"]["disk"] == "full")

        until(full, "a full disk")
        saved = at.values(run_id)
        until(lambda: client.state()["recorder"]["ring_s"] > 1.0, "a ring")
        row.seen = f"disk full; {client.state()['recorder']['ring_s']:.0f} s wait in memory"
        row.expect(at.values(run_id)[: len(saved)] == saved, "what was saved changed")
        filler.unlink()
        until(lambda: client.state()["recorder"]["disk"] == "ok", "room again")
        count = len(at.values(run_id))
        until(lambda: len(at.values(run_id)) > count + 20, "readings again")
        client.send("run_end")
    with RunView.open(DataFolder(at.data).run_path(run_id)) as view:
        kinds = [e.kind for e in view.events()]
        row.expect(view.check() == "ok", "the file is damaged")
    values = at.values(run_id)
    row.expect("disk_full" in kinds and "disk_ok" in kinds, "no event")
    row.expect(_gapless(values), "readings are missing")
    row.held = f"disk_full, disk_ok; {len(values)} readings, none missing"


def kill_and_power(folder: Path) -> list[Row]:
    """kill -9 and start again; before it, file and log copied as a power cut leaves them."""
    killed, power = Row(fault="kill -9, start again"), Row(fault="power cut (torn log)")
    chance = random.Random(3)
    with table(folder) as at:
        process = at.recorder()
        with Client(at.data) as client:
            run_id = client.send("start")["run"]
            until(lambda: len(at.values(run_id)) > 60, "readings")
            path = DataFolder(at.data).run_path(run_id)
            copies = _torn_copies(path, folder / "cut", chance)
            sent = at.scale.sent
            kill(process)
            lost_s = (sent - at.values(run_id)[-1]) * INTERVAL_S
            with RunView.open(path) as view:
                killed.expect(view.check() == "ok", "the file is damaged")
                killed.expect(view.status == "interrupted", f"it says {view.status}")
            process = at.recorder()
            try:
                until(lambda: client.state()["phase"] == "recording", "the run goes on")
                killed.expect(client.state()["run"]["id"] == run_id, "another run was begun")
                count = len(at.values(run_id))
                until(lambda: len(at.values(run_id)) > count + 30, "readings again")
                client.send("run_end")
            finally:
                end(process)
    killed.expect(lost_s <= MOST_LOST_S, f"{lost_s:.2f} s before the kill are missing")
    with RunView.open(path) as view:
        resumed = [e.text for e in view.events() if e.kind == "resumed"]
    killed.expect(len(resumed) == 1, "no event")
    killed.seen = resumed[0] if resumed else ""
    killed.held = f"one run, one gap; {lost_s:.2f} s before the kill lost"
    whole = at.values(run_id)
    for copy in copies:
        with RunView.open(copy) as view:
            found = view.readings("bath_scale").value.tolist()
            power.expect(view.check() == "ok", f"{copy.name} is damaged")
            power.expect(view.status == "interrupted", f"{copy.name} says {view.status}")
        power.expect(found == whole[: len(found)], f"{copy.name} holds other readings")
    power.seen = "marked interrupted"
    power.held = f"{len(copies)} logs cut at random bytes: each opens with whole batches"
    return [killed, power]


def _torn_copies(path: Path, folder: Path, chance: random.Random) -> list[Path]:
    """Copy database and log while they are written, the log cut at random bytes."""
    copies = []
    for number in range(12):
        place = folder / str(number)
        place.mkdir(parents=True)
        copy = place / path.name
        shutil.copy(path, copy)
        log = path.with_name(f"{path.name}-wal").read_bytes()
        copy.with_name(f"{copy.name}-wal").write_bytes(log[: chance.randrange(len(log) + 1)])
        copies.append(copy)
    return copies


def restart_in_the_bath(folder: Path) -> Row:
    """A piece goes in, the recorder is killed and started, the piece comes out."""
    row = Row(fault="restart during a bath")
    began = [0]

    def mass_g(number: int) -> float:
        # The speed is 5: a line every 0.1 s of the run.
        t_s = (number - began[0]) * INTERVAL_S * 5.0 if began[0] else 0.0
        return 5000.0 + (80.0 if 20.0 <= t_s < 95.0 else 0.0) + (number % 3 - 1) / 10

    with table(folder, mass_g, speed=5.0) as at:
        process = at.recorder()
        with Client(at.data) as client:
            run_id = client.send("start")["run"]
            until(lambda: client.state()["t_s"] > 1.0, "the run")
            began[0] = at.scale.sent
            offset_s = client.state()["t_s"]
            until(lambda: client.state()["view"]["board"], "a piece on the board")
            until(lambda: client.state()["t_s"] > offset_s + 45.0, "some time")
            kill(process)
            process = at.recorder()
            try:
                until(lambda: client.state()["phase"] == "recording", "the run goes on")
                board = client.state()["view"]["board"]
                row.expect(bool(board) and board[0]["out_s"] is None, "the piece is off the board")
                until(lambda: client.state()["t_s"] > offset_s + 115.0, "the end")
                client.send("run_end")
            finally:
                end(process)
    with RunView.open(DataFolder(at.data).run_path(run_id)) as view:
        results = view.results()
        kinds = {e.kind for e in view.events()}
    dwells = [i["dwell_s"] for i in results.immersions] if results else []
    row.expect(len(dwells) == 1 and dwells[0] is not None and abs(dwells[0] - 75.0) < 5.0,
               f"dwells are {dwells}, 75 s wanted")  # fmt: skip
    row.expect({"resumed", "gap"} <= kinds, "no event of the gap")
    row.seen = "the piece stays on the board with its time; 'the recorder had stopped'"
    row.held = f"one run with a gap; dwell {dwells[0] if dwells else None} s of 75"
    return row


def rows() -> list[Row]:
    """Return the rows of all of them."""
    found: list[Row] = []
    for make in (clock_step, disk_full, kill_and_power, restart_in_the_bath):
        with tempfile.TemporaryDirectory() as scratch:
            made = make(Path(scratch))
            found += made if isinstance(made, list) else [made]
    return found

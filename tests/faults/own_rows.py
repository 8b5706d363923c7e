"""Faults that no virtual instrument can show: clock, disk, kill, power cut, restart.

Each with a real recorder on a scale over a pseudo-terminal.
"""

import contextlib
import random
import shutil
import subprocess
import tempfile
import threading
import time
from pathlib import Path
from unittest import mock

from logger.control.client import Client
from logger.ports.clock import Clock
from logger.recorder.live import clockwatch
from logger.recorder.live.clocks import read_clocks
from logger.recorder.live.session import Recorder
from logger.recorder.setup import setup_from_files
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView
from tests.faults.row import Row
from tests.faults.scale import (
    INTERVAL_S,
    MOST_LOST_S,
    Table,
    end,
    gapless,
    kill,
    table,
    until,
    weight_line,
)

BATH_SPEED = 5.0


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
        mock.patch.object(clockwatch, "read_clocks", reading),
        mock.patch.object(clockwatch, "ANCHOR_S", 0.3),
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
    row.expect(gapless(series.value.tolist()), "readings are missing")
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
            return bool(client.state().recorder.disk == "full")

        until(full, "a full disk")
        saved = at.values(run_id)
        until(lambda: client.state().recorder.ring_s > 1.0, "a ring")
        row.seen = f"disk full; {client.state().recorder.ring_s:.0f} s wait in memory"
        row.expect(at.values(run_id)[: len(saved)] == saved, "what was saved changed")
        filler.unlink()
        until(lambda: client.state().recorder.disk == "ok", "room again")
        count = len(at.values(run_id))
        until(lambda: len(at.values(run_id)) > count + 20, "readings again")
        client.send("run_end")
    with RunView.open(DataFolder(at.data).run_path(run_id)) as view:
        kinds = [e.kind for e in view.events()]
        row.expect(view.check() == "ok", "the file is damaged")
    values = at.values(run_id)
    row.expect("disk_full" in kinds and "disk_ok" in kinds, "no event")
    row.expect(gapless(values), "readings are missing")
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
                until(lambda: client.state().phase == "recording", "the run goes on")
                killed.expect(client.state().run.id == run_id, "another run was begun")
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
    piece_g = [0.0]

    def line(number: int) -> bytes:
        return weight_line(5000.0 + piece_g[0] + (number % 3 - 1) / 10)

    with table(folder, line, speed=BATH_SPEED) as at:
        process = at.recorder()
        with Client(at.data) as client:
            run_id = client.send("start")["run"]
            until(lambda: client.state().t_s > 20.0, "the run")
            piece_g[0], began = 80.0, time.monotonic()
            until(lambda: client.state().view.board, "a piece on the board")
            until(lambda: time.monotonic() - began > 8.0, "some time in the bath")
            kill(process)
            process = at.recorder()
            try:
                until(lambda: client.state().phase == "recording", "the run goes on")
                back_s = client.state().t_s
                until(lambda: client.state().t_s > back_s + 15.0, "readings again")
                board = client.state().view.board
                row.expect(bool(board) and board[0].out_s is None, "the piece is off the board")
                piece_g[0], was_in_s = 0.0, (time.monotonic() - began) * BATH_SPEED
                gone_s = client.state().t_s
                until(lambda: client.state().t_s > gone_s + 25.0, "the end")
                client.send("run_end")
            finally:
                end(process)
    with RunView.open(DataFolder(at.data).run_path(run_id)) as view:
        results = view.results()
        kinds = {e.kind for e in view.events()}
    dwells = [i.dwell_s for i in results.immersions] if results else []
    right = len(dwells) == 1 and dwells[0] is not None and abs(dwells[0] - was_in_s) < 10.0
    row.expect(right, f"dwells are {dwells}, {was_in_s:.1f} s wanted")
    row.expect({"resumed", "gap"} <= kinds, "no event of the gap")
    row.seen = "the piece stays on the board with its time; 'the recorder had stopped'"
    row.held = f"one run with a gap; dwell {(dwells or [0])[0] or 0.0:.1f} s, was {was_in_s:.1f} s"
    return row


def rows() -> list[Row]:
    """Return the rows of all of them."""
    found: list[Row] = []
    for make in (clock_step, disk_full, kill_and_power, restart_in_the_bath):
        with tempfile.TemporaryDirectory() as scratch:
            made = make(Path(scratch))
            found += made if isinstance(made, list) else [made]
    return found

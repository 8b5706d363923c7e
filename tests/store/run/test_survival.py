"""What is saved survives kills, power cuts and a full disk."""

import os
import random
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from logger.model.errors import StoreError
from logger.model.event import Event
from logger.store.folder.datafolder import DataFolder
from logger.store.run import schema
from logger.store.run.ring import Ring
from logger.store.run.runfile import (
    Chunk,
    DiskFullError,
    RunView,
    RunWriter,
    StoredReading,
    WriteBatch,
)
from logger.store.run.schema import log_path
from logger.store.run.tidying import see_log_gone

S = 1_000_000_000
BATCH = 40
"""Readings in a batch: 0.2 s of a bench at 200 a second."""


def batch(number: int) -> WriteBatch:
    at = number * S // 5
    return WriteBatch(
        readings=[
            StoredReading("fat", at + k * 1000, (number * BATCH + k) / 100) for k in range(BATCH)
        ],
        chunks=[Chunk("probes", at, "data", b"%d\r\n" % number)],
    )


def batches_in(path: Path) -> int:
    """Return how many whole batches a file holds, after looking that they are all right."""
    view = RunView.open(path)
    assert view.check() == "ok"
    values = view.readings("fat").value
    count, rest = divmod(len(values), BATCH)
    assert rest == 0
    assert (values == np.arange(len(values)) / 100).all()
    assert [int(c.data) for c in view.chunks()] == list(range(count))
    return count


def write_for_ever(path: Path, number: int, acknowledge: int) -> None:
    """Write batches from `number` on; say the number of each once it is saved."""
    with RunWriter.reopen(path) as file:
        while True:
            given = batch(number)
            given.events.append(Event(t_ns=number, kind="mark", source="operator"))
            file.write(given)
            os.write(acknowledge, b"%d\n" % number)
            number += 1
            file.compact(force=number % 37 == 0)


def killed_after(path: Path, number: int, count: int, spin: int) -> int:
    """Let a child write from `number` on, kill it after `count` batches and a moment; return the
    number of the last batch that it said was saved."""
    read_end, write_end = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(read_end)
            write_for_ever(path, number, write_end)
        finally:
            os._exit(1)
    os.close(write_end)
    with os.fdopen(read_end, "rb") as said:
        lines = [said.readline() for _ in range(count)]
        for _ in range(spin):  # so that the kill does not always fall right after a commit
            pass
        os.kill(child, signal.SIGKILL)
        lines += said.readlines()
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status)
    return int([line for line in lines if line.endswith(b"\n")][-1])


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork to begin fifty writers quickly")
def test_50_kills_at_random_moments_lose_nothing_that_was_acknowledged(run_path, run_header):
    """The one batch in flight may or may not be there: 0.2 s of readings."""
    RunWriter.create(run_path, run_header()).close()
    chance = random.Random(20261125)
    found = 0
    for _ in range(50):
        last = killed_after(run_path, found, chance.randrange(1, 60), chance.randrange(40_000))
        found = batches_in(run_path)
        assert last + 1 <= found <= last + 2
        assert RunView.open(run_path).last_seq == found
    assert RunView.open(run_path).status == "interrupted"


@pytest.mark.parametrize("seed", range(40))
def test_after_a_power_cut_with_a_torn_log_the_file_opens_with_whole_batches(
    writer, run_path, tmp_path, seed
):
    """Database and log copied while in use, the log cut at a random byte; the shared-memory file
    is gone, as after a restart."""
    chance = random.Random(seed)
    for number in range(120):
        writer.write(batch(number))
        if number == 40:
            writer.compact(force=True)
    cut = tmp_path / "cut"
    cut.mkdir()
    copy = cut / run_path.name
    shutil.copy(run_path, copy)
    log = (run_path.parent / f"{run_path.name}-wal").read_bytes()
    assert log
    copy.with_name(f"{copy.name}-wal").write_bytes(log[: chance.randrange(len(log) + 1)])
    kept = batches_in(copy)
    assert kept <= 120
    with RunWriter.reopen(copy) as again:
        for number in range(kept, kept + 3):
            again.write(batch(number))
        again.finish(None, 1)
    assert batches_in(copy) == kept + 3


def fill(folder: Path) -> Path:
    """Take all room of a small file system."""
    filler = folder / "filler"
    with filler.open("wb", buffering=0) as file:
        for piece in (65536, 4096, 1):
            try:
                while True:
                    file.write(b"x" * piece)
            except OSError:
                continue
    return filler


@pytest.fixture
def small_disk(tmp_path):
    """A file system of 6 MB in memory."""
    place = tmp_path / "small"
    place.mkdir()
    mount = shutil.which("mount")
    if os.name == "nt" or mount is None or os.geteuid() != 0:
        pytest.skip("needs root to mount a small file system; the size limit test runs instead")
    done = subprocess.run(
        [mount, "-t", "tmpfs", "-o", "size=6m", "tmpfs", str(place)], capture_output=True
    )
    if done.returncode:
        pytest.skip(f"cannot mount here: {done.stderr.decode().strip()}")
    yield place
    subprocess.run(["umount", str(place)], check=True)


def test_on_a_full_disk_nothing_saved_is_lost_and_recording_goes_on(small_disk, run_header):
    """Ballast overboard, memory ring, and every batch in the file at the end."""
    folder = DataFolder(small_disk)
    assert folder.keep_ballast(1_000_000)
    path = folder.run_path("20261125-0913-a3f2")
    ring = Ring()
    with RunWriter.create(path, run_header()) as file:
        for number in range(20):
            file.write(batch(number))
        filler = fill(small_disk)
        number, full = 20, None
        while full is None:
            given = batch(number)
            try:
                file.write(given)
            except DiskFullError as error:
                full = error
            number += 1
        assert full.batch is given
        assert batches_in(path) == number - 1
        ring.add(full.batch)
        for number in range(number, number + 30):  # noqa: B020 - goes on counting
            with pytest.raises(DiskFullError):
                file.write(batch(number))
            ring.add(batch(number))
        with pytest.raises(DiskFullError):
            file.compact(force=True)
        assert batches_in(path) == number - 30
        assert folder.drop_ballast()
        while (oldest := ring.oldest()) is not None:
            file.write(oldest)
            ring.done()
        assert not folder.keep_ballast(1_000_000)
        filler.unlink()
        file.compact(force=True)
        assert folder.keep_ballast(1_000_000)
        file.finish(None, 1)
    assert batches_in(path) == number + 1


def test_a_run_ended_on_a_full_disk_is_whole_though_not_compacted(small_disk, run_header):
    folder = DataFolder(small_disk)
    path = folder.run_path("20261125-0913-a3f2")
    file = RunWriter.create(path, run_header())
    for number in range(30):
        file.write(batch(number))
    filler = fill(small_disk)
    try:
        file.finish(None, 1)
        ended = True
    except DiskFullError:
        ended = False
        file.close()
    assert RunView.open(path).status == ("ended" if ended else "interrupted")
    assert batches_in(path) == 30
    filler.unlink()
    with RunWriter.reopen(path) as again:
        again.finish(None, 1)
    assert batches_in(path) == 30


LIMITED = """
import resource, sys
from logger.store.run.runfile import Chunk, DiskFullError, RunWriter, StoredReading, WriteBatch

with RunWriter.reopen(sys.argv[1]) as file:
    resource.setrlimit(resource.RLIMIT_FSIZE, (400_000, resource.RLIM_INFINITY))
    number = 0
    try:
        while True:
            rows = [
                StoredReading("fat", (number * 40 + k) * 1000, (number * 40 + k) / 100)
                for k in range(40)
            ]
            file.write(
                WriteBatch(
                    readings=rows, chunks=[Chunk("probes", number, "data", b"%d" % number)]
                )
            )
            number += 1
    except DiskFullError as error:
        assert len(error.batch.readings) == 40
        resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        file.write(error.batch)
        print(number + 1)
"""


@pytest.mark.skipif(os.name == "nt", reason="no file size limit there")
def test_a_file_size_limit_reads_as_a_full_disk(run_path, run_header):
    RunWriter.create(run_path, run_header()).close()
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, str(run_path)], capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    assert batches_in(run_path) == int(done.stdout)


READ = """
import sys
from logger.store.run.runfile import RunView

view = RunView.open(sys.argv[1])
print("reading", flush=True)
seen = looks = 0
while view.status == "recording":
    series = view.readings("fat")
    assert len(series) >= seen, (len(series), seen)
    assert len(series) % 40 == 0, len(series)
    assert (series.value * 100).round().tolist() == list(range(len(series)))
    assert view.count("fat") >= len(series)
    assert sum(view.overview("fat", points=50).n) >= len(series)
    chunks = [int(c.data) for c in view.chunks()]
    assert chunks == list(range(len(chunks)))
    seen, looks = len(series), looks + 1
print(looks, seen)
"""


def test_a_reader_during_writing_and_compaction_always_sees_whole_batches(run_path, run_header):
    file = RunWriter.create(run_path, run_header())
    reader = subprocess.Popen(
        [sys.executable, "-c", READ, str(run_path)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    with reader:
        assert reader.stdout is not None
        assert reader.stdout.readline() == "reading\n"
        for number in range(400):
            file.write(batch(number))
            file.compact(force=number % 7 == 0)
        file.finish(None, 1)
        out, err = reader.communicate()
    assert reader.returncode == 0, err
    assert int(out.split()[0]) >= 2
    # Bytes 18 and 19 say how the file is written: 1 is with a rollback journal, 2 with a log.
    assert run_path.read_bytes()[18:20] == b"\x01\x01"
    # One that looked right at the end may leave a log; it holds nothing and goes at the next fold.
    assert not log_path(run_path).exists() or not log_path(run_path).stat().st_size
    see_log_gone(run_path)
    assert [p.name for p in run_path.parent.iterdir()] == [run_path.name]
    assert batches_in(run_path) == 400
    assert [p.name for p in run_path.parent.iterdir()] == [run_path.name]


def test_a_run_that_ended_while_a_reader_held_it_becomes_one_file_later(
    writer, run_path, monkeypatch
):
    """A reader that never lets go: the end is saved, the log stays; the next end folds it in."""
    monkeypatch.setattr("logger.store.run.tidying._FOLD_TRIES", 2)
    writer.write(batch(0))
    with schema.reading(run_path) as held:
        assert held.execute("SELECT count(*) FROM tail").get == BATCH
        writer.finish(None, 1)
        assert (run_path.parent / f"{run_path.name}-wal").exists()
    assert RunView.open(run_path).status == "ended"
    RunWriter.reopen(run_path).finish(None, 1)
    assert [p.name for p in run_path.parent.iterdir()] == [run_path.name]
    assert batches_in(run_path) == 1


def test_a_view_kept_open_does_not_keep_the_log_alive(writer, run_path):
    view = RunView.open(run_path)
    writer.write(batch(0))
    assert view.count("fat") == BATCH
    writer.finish(None, 1)
    assert [p.name for p in run_path.parent.iterdir()] == [run_path.name]
    assert view.status == "ended"


def test_a_finished_file_reads_from_a_folder_that_cannot_be_written(writer, run_path):
    writer.write(batch(0))
    writer.finish(None, 1)
    run_path.chmod(0o444)
    run_path.parent.chmod(0o555)
    try:
        assert batches_in(run_path) == 1
    finally:
        run_path.parent.chmod(0o755)


def test_damage_inside_a_block_is_said_not_read(writer, run_path):
    writer.write(batch(0))
    writer.finish(None, 1)
    data = bytearray(run_path.read_bytes())
    at = data.rindex(b"\x28\xb5\x2f\xfd")
    data[at + 4 : at + 12] = b"\xff" * 8
    run_path.write_bytes(bytes(data))
    view = RunView.open(run_path)
    said = []
    looks = [lambda: view.readings("fat"), lambda: view.overview("fat", points=2)]
    for look in [*looks, lambda: list(view.chunks())]:
        try:
            look()
        except StoreError as error:
            said.append(str(error))
    assert len(said) == 1
    assert "damaged" in said[0]

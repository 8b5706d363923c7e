"""A disk that is really full: a small tmpfs under the data folder."""

import contextlib
import os
import re
import subprocess

import pytest

from logger.control.client import Client, RefusedError
from logger.recorder.launch import start_process
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView
from tests.trust.processes.running import running


@pytest.fixture
def small_disk(tmp_path):
    """A file system of 20 MB of its own."""
    place = tmp_path / "small"
    place.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=20m", "tmpfs", str(place)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    if mounted.returncode:
        if os.environ.get("CI") == "true":
            pytest.fail(f"cannot mount a tmpfs: {mounted.stderr}")
        pytest.skip("cannot mount a tmpfs here: needs root")
    yield place
    subprocess.run(["umount", "-l", str(place)], check=True)


def fill(place):
    """Write until nothing goes in any more; return the file."""
    path = place / "filler"
    with path.open("ab", buffering=0) as out:
        for size in (1_000_000, 4_096, 1):
            with contextlib.suppress(OSError):
                while out.write(b"x" * size) == size:
                    pass
    return path


def test_a_full_disk_loses_nothing_and_recording_goes_on(small_disk, bench_files, eventually):
    data = small_disk / "data"
    process = start_process(data, *bench_files)
    try:
        with Client(data) as client:
            run_id = client.send("start")["run"]
            path = DataFolder(data).run_path(run_id)

            def values():
                with RunView.open(path) as view:
                    return view.readings("bath_scale").value.tolist()

            eventually(lambda: len(values()) > 20)
            filler = None
            # The ballast gives room for a while: fill again until there is none.
            while not (filler and client.state().recorder.disk == "full"):
                filler = fill(small_disk)
            saved = values()
            with pytest.raises(RefusedError, match="disk is full"):
                client.send("run_end")
            eventually(lambda: client.state().recorder.ring_s > 1.0)
            assert values()[: len(saved)] == saved
            filler.unlink()
            eventually(lambda: client.state().recorder.disk == "ok")
            count = len(values())
            eventually(lambda: len(values()) > count + 20)
            client.send("run_end")
        with RunView.open(path) as view:
            kinds = [e.kind for e in view.events()]
            assert view.check() == "ok"
            after = view.readings("bath_scale").value.tolist()
        assert kinds.count("disk_full") == kinds.count("disk_ok") >= 1
        assert after == [after[0] + n for n in range(len(after))], "a reading is missing"
    finally:
        process.terminate()
        process.wait(60)


@pytest.mark.slow
def test_a_recording_ended_on_a_full_disk_says_what_is_lost_exactly(
    small_disk, bench_files, eventually, scale
):
    """The scale counts its lines, so that what is in no file can be counted, too."""
    data, (bench, sheet) = small_disk / "data", bench_files
    words = ("record", "--bench", bench, "--sheet", sheet, "--data", data)
    with running(*words) as command, Client(data) as client:
        command.hear("Recording run")
        (run_id,) = DataFolder(data).run_ids()
        eventually(lambda: DataFolder(data).view(run_id).count("bath_scale") > 20)
        filler = None
        while not (filler and client.state().recorder.disk == "full"):
            filler = fill(small_disk)
        eventually(lambda: client.state().recorder.ring_s > 1.0)
        seen = client.state().channels[0].value
        command.process.terminate()
        assert command.wait() == 1
        sent = scale.sent
        said = command.hear("not saved, and lost: ")
        assert command.said(f"run {run_id} has no end yet; the next start continues it")
    found = re.search(
        r"(\d+) readings of bath_scale from ([\d.]+) s to ([\d.]+) s of the run", said
    )
    count, first_s, last_s = int(found[1]), float(found[2]), float(found[3])
    with DataFolder(data).view(run_id) as view:
        saved = view.readings("bath_scale")
        assert view.status == "interrupted"
        assert view.check() == "ok"
    last = saved.value[-1]
    assert seen - last <= count <= sent - last
    assert saved.t_ns[-1] / 1e9 - 0.01 <= first_s < last_s

"""A demo replaces a killed recorder or bench of its own, and sweeps what a killed demo left."""

import os
import signal
import tempfile
from pathlib import Path

import pytest

from logger.control.client import Client, GoneError
from logger.store.folder.datafolder import DataFolder
from logger.store.folder.lock import lock_path
from logger.store.run.runfile import RunView
from tests.faults.scale import until
from tests.trust.processes.running import gone, running

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs /proc"),
]


@pytest.fixture
def data(tmp_path, monkeypatch):
    """A data folder whose list is not empty, and a place of the test's own for scratch folders."""
    (tmp_path / "scratch").mkdir()
    monkeypatch.setenv("TMPDIR", str(tmp_path / "scratch"))
    monkeypatch.setattr(tempfile, "tempdir", None)
    folder = DataFolder(tmp_path / "data")
    folder.run_path("20261125-0913-a3f2").write_bytes(b"")
    return folder.path


def demo(data):
    return running("demo", "--short", "--no-browser", "--port", "0", "--data", data)


def played(client, after_s, but=""):
    """Wait for a run of so many seconds with live readings; return its id."""

    def look():
        try:
            state = client.state()
        except GoneError:
            return None
        live = any(c.status == "live" for c in state.channels)
        run_id = state.run.id
        return run_id if live and run_id and run_id != but and state.t_s > after_s else None

    until(look, "a run with readings")
    return client.state().run.id


def status_of(data, run_id):
    with RunView.open(DataFolder(data).run_path(run_id)) as view:
        return view.status


def test_a_demo_whose_recorder_is_killed_goes_on_with_its_run(data):
    with demo(data) as command, Client(data) as client:
        command.hear("http://127.0.0.1")
        run_id = played(client, 20.0)
        recorder, t_s = int(client.ask("ping")["pid"]), client.state().t_s
        os.kill(recorder, signal.SIGKILL)
        command.hear("another one takes over")
        assert played(client, t_s + 20.0) == run_id
        command.process.send_signal(signal.SIGINT)
        command.wait()
    assert status_of(data, run_id) == "ended"


def test_a_demo_whose_bench_is_killed_begins_again_with_another_one(data):
    with demo(data) as command, Client(data) as client:
        command.hear("http://127.0.0.1")
        run_id = played(client, 20.0)
        (bench,) = set(command.children()) - {int(client.ask("ping")["pid"])}
        os.kill(bench, signal.SIGKILL)
        command.hear("The virtual bench was killed; a new one starts the batch again")
        other = played(client, 5.0, but=run_id)
        command.process.send_signal(signal.SIGINT)
        command.wait()
    assert {status_of(data, run_id), status_of(data, other)} == {"ended"}


def test_the_next_demo_takes_the_place_of_a_killed_one_and_sweeps_its_scratch_folder(data):
    scratch = Path(tempfile.gettempdir())
    with demo(data) as command:
        command.hear("http://127.0.0.1")
        children = command.children()
        (left,) = scratch.glob("bainlog-demo-*[0-9a-f]")
        os.killpg(command.process.pid, signal.SIGKILL)
        command.wait()
    assert left.is_dir()
    with demo(data) as command:
        command.hear("http://127.0.0.1")
        assert not left.exists()
        assert not lock_path(left).exists()
        command.process.send_signal(signal.SIGINT)
        command.wait()
    for child in children:
        until(lambda pid=child: gone(pid), f"the end of {child}")
    assert list(scratch.glob("bainlog-*")) == []

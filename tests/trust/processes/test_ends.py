"""How commands, recorders and virtual benches end, and what outlives what: real processes."""

import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from logger.control.client import Client
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView
from tests.faults.scale import gapless, until
from tests.trust.processes.running import gone, kinds, recorder_of, recording, run_of, running

pytestmark = pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs /proc")


@pytest.mark.parametrize("sigint", ["default", "ignored"])
def test_record_ends_and_saves_its_run_at_ctrl_c(at, sigint):
    with recording(at, sigint=sigint) as command:
        run_id = run_of(command)
        until(lambda: len(at.values(run_id)) > 5, "readings")
        command.process.send_signal(signal.SIGINT)
        assert command.wait() == 0
        assert command.said("Saved.")
    assert kinds(at, run_id)[0] == "ended"


@pytest.mark.slow
def test_a_run_whose_recorder_is_killed_goes_on_in_its_file_with_another_recorder(at):
    with recording(at) as command:
        run_id = run_of(command)
        until(lambda: len(at.values(run_id)) > 5, "readings")
        first = recorder_of(at)
        os.kill(first, signal.SIGKILL)
        command.hear(f"Run {run_id} goes on")
        assert recorder_of(at) != first
        had = len(at.values(run_id))
        until(lambda: len(at.values(run_id)) > had, "more readings")
        command.process.send_signal(signal.SIGINT)
        assert command.wait() == 0
    status, said = kinds(at, run_id)
    assert (status, said.count("resumed"), said.count("next")) == ("ended", 1, 1)
    assert DataFolder(at.data).run_ids() == [run_id]
    values = at.values(run_id)
    assert values == sorted(set(values))


@pytest.mark.slow
def test_record_waits_for_a_stopped_recorder_and_says_so(at):
    with recording(at) as command:
        run_id = run_of(command)
        recorder = recorder_of(at)
        os.kill(recorder, signal.SIGSTOP)
        command.hear("does not answer; waiting for it")
        os.kill(recorder, signal.SIGCONT)
        command.hear("answers again, after")
        command.process.send_signal(signal.SIGINT)
        assert command.wait() == 0
    assert kinds(at, run_id)[0] == "ended"


@pytest.mark.slow
def test_record_goes_on_with_a_run_of_its_sheet_that_was_cut_off_and_closes_one_when_asked(at):
    with recording(at) as command:
        run_id = run_of(command)
        until(lambda: len(at.values(run_id)) > 5, "readings")
        recorder = recorder_of(at)
        os.kill(command.process.pid, signal.SIGKILL)
        os.kill(recorder, signal.SIGKILL)
    until(lambda: gone(recorder), "the end of the recorder")
    with recording(at) as command:
        command.hear(f"Going on with run {run_id}")
        recorder = recorder_of(at)
        os.kill(command.process.pid, signal.SIGKILL)
        os.kill(recorder, signal.SIGKILL)
    until(lambda: gone(recorder), "the end of the recorder")
    with running(
        "record", "--new-run", "--for", "1 s", "--bench", at.folder / "bench.toml",
        "--sheet", at.folder / "x.sheet.toml", "--data", at.data,
    ) as command:  # fmt: skip
        other = run_of(command)
        assert command.wait() == 0
    assert other != run_id
    assert kinds(at, run_id)[0] == "interrupted"
    assert kinds(at, other)[0] == "ended"


@pytest.mark.slow
def test_start_replaces_a_killed_recorder_and_its_run_goes_on(at):
    with running(
        "start", "--bench", at.folder / "bench.toml", "--sheet", at.folder / "x.sheet.toml",
        "--data", at.data, "--no-browser", "--port", "0", sigint="ignored",
    ) as command, Client(at.data) as client:  # fmt: skip
        command.hear("http://127.0.0.1")
        run_id = client.send("start")["run"]
        until(lambda: len(at.values(run_id)) > 5, "readings")
        first = recorder_of(at)
        os.kill(first, signal.SIGKILL)
        command.hear("another one takes over")
        had = len(at.values(run_id))
        until(lambda: len(at.values(run_id)) > had, "more readings")
        assert client.state().run.id == run_id
        command.process.send_signal(signal.SIGINT)
        assert command.wait() == 0
    assert kinds(at, run_id)[0] == "ended"


@pytest.mark.slow
def test_start_waits_for_a_stopped_recorder_its_own_or_one_that_runs_already(at):
    words = (
        "start", "--bench", at.folder / "bench.toml", "--sheet", at.folder / "x.sheet.toml",
        "--data", at.data, "--no-browser", "--port", "0",
    )  # fmt: skip
    with running(*words) as first:
        first.hear("http://127.0.0.1")
        recorder = recorder_of(at)
        os.kill(recorder, signal.SIGSTOP)
        with running(*words) as second:
            for command in (first, second):
                command.hear(f"process {recorder}) does not answer; waiting for it")
            os.kill(recorder, signal.SIGCONT)
            second.hear("; opening a screen for it")
            for command in (second, first):
                command.hear("answers again, after")
                command.hear("http://127.0.0.1")
                command.process.send_signal(signal.SIGINT)
                assert command.wait() == 0


@pytest.fixture
def small(tmp_path):
    """A data folder whose list is not empty, so that a demo unpacks nothing."""
    folder = DataFolder(tmp_path / "data")
    folder.run_path("20261125-0913-a3f2").write_bytes(b"")
    return folder.path


def demo(small, **how):
    return running(
        "demo", "--short", "--no-browser", "--port", "0", "--data", small, **how
    )  # fmt: skip


def scratch_of(pids: list[int]) -> set[str]:
    """Return the folders in which the terminals of a virtual bench are."""
    found = set()
    for pid in pids:
        text = Path(f"/proc/{pid}/cmdline").read_bytes().replace(b"\x00", b" ").decode()
        found |= {word for word in text.split() if "bainlog-" in word and word.endswith(".toml")}
    return {str(Path(word).parent) for word in found}


def ptys_in(folder: str) -> list[Path]:
    return [p for p in Path(folder).rglob("*") if p.is_symlink()]


@pytest.mark.slow
@pytest.mark.parametrize("how", ["stop", "kill", "hangup of the group"])
def test_a_demo_takes_its_bench_and_recorder_with_it_however_it_ends(small, how):
    with demo(small) as command:
        command.hear("http://127.0.0.1")
        children = command.children()
        scratch = scratch_of(children)
        assert len(children) == 2
        assert len(scratch) == 1
        if how == "hangup of the group":
            os.killpg(command.process.pid, signal.SIGHUP)
        else:
            os.kill(command.process.pid, signal.SIGTERM if how == "stop" else signal.SIGKILL)
        for child in children:
            until(lambda pid=child: gone(pid), f"the end of {child}")
        command.wait()
    assert ptys_in(scratch.pop()) == []
    ended = [r for r in DataFolder(small).run_ids() if r != "20261125-0913-a3f2"]
    with RunView.open(DataFolder(small).run_path(ended[0])) as view:
        assert view.status == "ended"


@pytest.mark.slow
def test_a_demo_that_a_screen_started_ends_when_the_screen_is_gone(small):
    with running(
        "demo", "--short", "--no-browser", "--port", "0", "--with-parent", "--data", small,
        stdin=subprocess.PIPE,
    ) as command:  # fmt: skip
        command.hear("http://127.0.0.1")
        children = command.children()
        command.process.stdin.close()
        command.wait()
        for child in children:
            until(lambda pid=child: gone(pid), f"the end of {child}")


BENCH_WITH_A_COPY = """
import os, subprocess, sys
from pathlib import Path
from logger.virtual.process import BenchProcess
bench = BenchProcess(Path(sys.argv[1]), short=True)
os.set_inheritable(bench._child.stdin.fileno(), True)
copy = subprocess.Popen(["sleep", "600"], close_fds=False, stdout=subprocess.DEVNULL)
print(bench._child.pid, copy.pid, flush=True)
copy.wait()
"""


@pytest.mark.slow
def test_a_virtual_bench_ends_with_its_parent_though_another_program_holds_its_input(tmp_path):
    parent = subprocess.Popen(
        [sys.executable, "-c", BENCH_WITH_A_COPY, tmp_path], stdout=subprocess.PIPE, text=True
    )
    with parent.stdout:
        bench, copy = map(int, parent.stdout.readline().split())
    try:
        parent.kill()
        parent.wait(60)
        until(lambda: gone(bench), "the end of the bench")
        assert not gone(copy)
    finally:
        os.kill(copy, signal.SIGKILL)
    assert ptys_in(str(tmp_path)) == []


@pytest.mark.slow
@pytest.mark.parametrize("command", ["record", "start", "demo"])
def test_too_few_open_files_are_said_in_a_line_before_anything_is_started(at, command):
    words = {
        "record": ["--bench", at.folder / "bench.toml", "--sheet", at.folder / "x.sheet.toml"],
        "start": ["--no-browser", "--port", "0"],
        "demo": ["--no-browser", "--port", "0"],
    }[command]
    with running(command, *words, "--data", at.data, files=40) as running_one:
        assert running_one.wait() == 1
        assert len(running_one.lines) == 1
        assert "only 40 files may be open at once" in running_one.lines[0]
        assert running_one.children() == []
    assert not (at.data / "recorder.lock").exists()


@pytest.mark.slow
@pytest.mark.parametrize("command", ["record", "start"])
def test_a_data_folder_deleted_under_way_ends_in_words_and_the_run_is_saved_where_they_say(
    at, tmp_path, monkeypatch, command
):
    """Values count the lines of the scale: none is missing, from the first to past the deletion."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "home"))
    more = ["--no-browser", "--port", "0"] if command == "start" else []
    with running(
        command, "--bench", at.folder / "bench.toml", "--sheet", at.folder / "x.sheet.toml",
        "--data", at.data, *more,
    ) as running_one:  # fmt: skip
        if command == "start":
            running_one.hear("http://127.0.0.1")
            with Client(at.data) as client:
                run_id = client.send("start")["run"]
        else:
            run_id = run_of(running_one)
        until(lambda: len(at.values(run_id)) > 5, "readings")
        last = at.values(run_id)[-1]
        shutil.rmtree(at.data)
        assert running_one.wait() == 1
        said = running_one.said("was removed or moved")
    place = tmp_path / "home" / "bainlog-rescued"
    assert said.startswith("bainlog: the data folder")
    assert said.endswith(f"is saved: bainlog show {run_id} --data {place}")
    with DataFolder(place).view(run_id) as view:
        values = view.readings("bath_scale").value.tolist()
        assert (view.status, view.check()) == ("ended", "ok")
    assert gapless(values)
    assert values[-1] > last
    assert not at.data.exists()

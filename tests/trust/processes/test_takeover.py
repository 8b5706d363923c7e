"""A command that was killed leaves its recorder; the next one takes it over: real processes."""

import contextlib
import os
import signal
from pathlib import Path

import pytest

from logger.control.client import Client
from logger.store.folder.datafolder import DataFolder
from tests.faults.scale import SHEET, gapless, until
from tests.trust.processes.running import gone, kinds, recorder_of, recording, run_of, running

pytestmark = pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs /proc")


@pytest.mark.slow
@pytest.mark.parametrize("then", ["goes on", "other sheet", "new run"])
def test_record_takes_over_the_recorder_of_a_killed_command_and_no_line_of_the_scale_is_lost(
    at, then
):
    with recording(at) as command:
        run_id = run_of(command)
        until(lambda: len(at.values(run_id)) > 5, "readings")
        recorder = recorder_of(at)
        os.kill(command.process.pid, signal.SIGKILL)
        command.wait()
        had = at.values(run_id)[-1]
        until(lambda: at.values(run_id)[-1] > had, "readings without a command")
        assert not gone(recorder)
    if then == "other sheet":
        (at.folder / "x.sheet.toml").write_text(SHEET.replace("Bath only", "Another"))
    with recording(at, *(["--new-run"] if then == "new run" else [])) as command:
        if then == "goes on":
            command.hear(f"Going on with run {run_id}; its recorder went on")
            assert recorder_of(at) == recorder
        else:
            command.hear(f"Run {run_id} of a command that was killed")
            command.hear("Recording run")
            until(lambda: gone(recorder), "the end of the recorder")
        had = at.values(run_id)[-1]
        if then == "goes on":
            until(lambda: at.values(run_id)[-1] > had, "more readings")
        command.process.send_signal(signal.SIGINT)
        assert command.wait() == 0
        assert command.said("Saved.")
    until(lambda: gone(recorder), "the end of the recorder")
    assert kinds(at, run_id)[0] == "ended"
    assert gapless(at.values(run_id))
    assert len(DataFolder(at.data).run_ids()) == (1 if then == "goes on" else 2)
    assert not (at.data / "keeper.lock").exists()


START = ("--no-browser", "--port", "0")


def screen(at, **how):
    return running(
        "start", "--bench", at.folder / "bench.toml", "--sheet", at.folder / "x.sheet.toml",
        "--data", at.data, *START, **how,
    )  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("opened", ["later", "before"])
def test_a_screen_takes_over_the_recorder_of_a_killed_one_and_ends_it(at, opened):
    with screen(at) as first, Client(at.data) as client:
        first.hear("http://127.0.0.1")
        run_id = client.send("start")["run"]
        until(lambda: len(at.values(run_id)) > 5, "readings")
        recorder = recorder_of(at)
        with contextlib.ExitStack() as end:
            if opened == "before":
                second = end.enter_context(screen(at))
                second.hear("; opening a screen for it")
                second.hear("http://127.0.0.1")
            os.kill(first.process.pid, signal.SIGKILL)
            first.wait()
            if opened == "later":
                second = end.enter_context(screen(at))
                second.hear(f"Run {run_id} goes on without a gap")
                second.hear("http://127.0.0.1")
            else:
                second.hear("ends with this command")
            assert recorder_of(at) == recorder
            had = at.values(run_id)[-1]
            until(lambda: at.values(run_id)[-1] > had, "more readings")
            second.process.send_signal(signal.SIGINT)
            assert second.wait() == 0
        assert gone(recorder)
    assert kinds(at, run_id)[0] == "ended"
    assert gapless(at.values(run_id))
    assert not (at.data / "keeper.lock").exists()


@pytest.mark.slow
def test_a_recorder_that_was_taken_over_is_replaced_when_it_is_killed_too(at):
    with recording(at) as command:
        run_id = run_of(command)
        until(lambda: len(at.values(run_id)) > 5, "readings")
        recorder = recorder_of(at)
        os.kill(command.process.pid, signal.SIGKILL)
        command.wait()
    with recording(at) as command:
        command.hear("its recorder went on")
        os.kill(recorder, signal.SIGKILL)
        command.hear(f"Run {run_id} goes on; what was not recorded")
        command.process.send_signal(signal.SIGINT)
        assert command.wait() == 0
    assert kinds(at, run_id)[0] == "ended"


def test_a_second_record_is_refused_in_words_while_the_first_one_lives(at):
    with recording(at) as first:
        run_of(first)
        with recording(at) as second:
            assert second.wait() == 1
            assert second.said(f"is recorded by the command of process {first.process.pid} on")
        first.process.send_signal(signal.SIGINT)
        assert first.wait() == 0

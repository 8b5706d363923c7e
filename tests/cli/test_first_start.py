"""A start with nothing set up: the screen comes up all the same, and brings the virtual bench."""

import os
import signal
import subprocess
import sys

import pytest

from dashboard.tryout import Tried
from logger.cli import tryout
from logger.control.client import Client

SPEAKS = "import signal; print('The screen is at http://127.0.0.1:9/', flush=True); signal.pause()"


@pytest.mark.slow
def test_a_start_without_a_bench_file_opens_a_screen_that_helps(tmp_path, eventually):
    process = subprocess.Popen(
        [sys.executable, "-u", "-c", "from logger.cli.main import main; main()", "start",
         "--no-browser", "--port", "0", "--data", tmp_path],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
    )  # fmt: skip
    said = []
    for line in process.stdout:
        said.append(line)
        if "http://127.0.0.1" in line:
            break
    with Client(tmp_path) as client:
        state = client.state()
    assert (state.phase, state.channels) == ("idle", [])
    assert any("the Instruments page helps" in line for line in said)
    process.send_signal(signal.SIGTERM)
    assert process.wait(60) == 0
    process.stdout.close()
    assert not (tmp_path / "bench.toml").exists()


@pytest.fixture
def try_out(tmp_path):
    made = tryout.TryOut(tmp_path / "demo")
    yield made
    made.stop()


def test_the_virtual_bench_is_begun_once_and_ends_with_the_screen(try_out, monkeypatch, eventually):
    monkeypatch.setattr(tryout, "_COMMAND", SPEAKS)
    assert try_out(begin=False) == Tried()
    try_out(begin=True)
    eventually(lambda: try_out(begin=True).url == "http://127.0.0.1:9/")
    first = try_out._process.pid
    try_out(begin=True)
    assert try_out._process.pid == first
    try_out.stop()
    with pytest.raises(ProcessLookupError):
        os.kill(first, 0)


def test_a_virtual_bench_that_does_not_start_says_why(try_out, monkeypatch, eventually):
    monkeypatch.setattr(tryout, "_COMMAND", "raise SystemExit('no room for it')")
    try_out(begin=True)
    eventually(lambda: try_out(begin=False).failed)
    assert "no room for it" in try_out(begin=False).failed

"""A request to stop, made by signals while it is waited for."""

import signal
import subprocess
import sys

import pytest

from logger.recorder.stopping import StopRequest

SIGNALLED = """
import signal
from logger.recorder.stopping import StopRequest

came = 0
stopping = StopRequest()
ask = stopping.ask
def count():
    global came
    came += 1
    ask()
stopping.ask = count
stopping.at(signal.SIGALRM)
signal.setitimer(signal.ITIMER_REAL, 0.001, 0.001)
while came < 500:
    stopping.wait(0.00001)
    stopping._seen = False  # waits again, so that the next signal finds it waiting
signal.setitimer(signal.ITIMER_REAL, 0.0)
print("came", came)
"""


@pytest.mark.skipif(not hasattr(signal, "setitimer"), reason="needs setitimer")
def test_a_signal_at_any_moment_of_waiting_blocks_nothing():
    # With a threading.Event in its place this hangs in the handler within some tens of signals.
    told = subprocess.run(
        [sys.executable, "-c", SIGNALLED], capture_output=True, text=True, timeout=120, check=False
    )
    assert told.returncode == 0, told.stderr[-500:]
    assert told.stdout.startswith("came 5")


def test_it_is_seen_from_the_first_ask_on():
    stopping = StopRequest()
    assert not stopping.is_asked()
    assert not stopping.wait(0.001)
    stopping.ask()
    stopping.ask()
    assert stopping.wait(5.0)
    assert stopping.is_asked()

"""The run's clock goes with the machine's monotonic clock, times its speed."""

import threading
import time

import pytest

from logger.ports.clock import Clock


def test_at_speed_1_it_is_the_monotonic_clock():
    before, now_ns, after = time.monotonic_ns(), Clock().now_ns(), time.monotonic_ns()
    assert before <= now_ns <= after


def test_a_fast_clock_is_the_monotonic_clock_times_its_speed():
    before, now_ns, after = time.monotonic_ns(), Clock(20.0).now_ns(), time.monotonic_ns()
    assert 20 * before - 1000 <= now_ns <= 20 * after + 1000
    assert Clock(20.0).real_s(10.0) == 0.5


def test_waiting_ends_when_the_event_is_set():
    event = threading.Event()
    assert not Clock(1000.0).wait(event, 1.0)
    event.set()
    assert Clock().wait(event, 3600.0)
    assert not Clock().wait(threading.Event(), -1.0)


@pytest.mark.parametrize("speed", [0.0, -1.0, float("nan")])
def test_a_clock_that_stands_still_or_runs_back_is_refused(speed):
    with pytest.raises(ValueError, match="clock speed"):
        Clock(speed)

"""Questions stand on the grid of the first one."""

import threading

from logger.ports.session import Slots


class HandClock:
    """A clock that moves only when somebody waits or works."""

    def __init__(self) -> None:
        self.t_ns = 7_000

    def now_ns(self) -> int:
        return self.t_ns

    def wait(self, event: threading.Event, run_seconds: float) -> bool:
        self.t_ns += round(run_seconds * 1e9)
        return event.is_set()


def asked_at(works_s: list[float], every_s: float = 0.2) -> list[float]:
    """Return when each question went out, in periods after the first."""
    clock = HandClock()
    slots, times = Slots(clock, threading.Event(), every_s), []
    for work_s in works_s:
        assert slots.wait()
        times.append(round((clock.t_ns - 7_000) / 1e9 / every_s, 6))
        clock.t_ns += round(work_s * 1e9)
    return times


def test_answers_of_any_length_within_a_period_shift_nothing():
    assert asked_at([0.01, 0.19, 0.05, 0.1]) == [0, 1, 2, 3]


def test_a_late_answer_skips_slots_and_the_grid_stays():
    assert asked_at([0.01, 0.45, 0.01, 0.2, 0.0]) == [0, 1, 4, 5, 6]


def test_a_thousand_questions_do_not_drift():
    assert asked_at([0.0123] * 1000)[-1] == 999


def test_stopped_is_said():
    stop = threading.Event()
    stop.set()
    assert not Slots(HandClock(), stop, 1.0).wait()

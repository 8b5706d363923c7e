"""The log of refused requests stays short, whatever is sent."""

import logging

import pytest

from dashboard.doors.refusals import EACH_S, LONGEST, MOST_LINES, RefusalLog


class Clock:
    now_s = 100.0

    def __call__(self):
        return self.now_s


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def refusals(clock, caplog):
    return RefusalLog(logging.getLogger("refusals"), clock)


def test_lines_beyond_the_most_are_counted_and_said_later(refusals, clock, caplog):
    for _ in range(MOST_LINES + 7):
        refusals.say("wrong")
    assert len(caplog.messages) == MOST_LINES
    clock.now_s += EACH_S
    refusals.say("wrong")
    assert len(caplog.messages) == MOST_LINES + 2
    assert caplog.messages[-2].startswith("7 more")


def test_a_quiet_time_says_no_count(refusals, clock, caplog):
    refusals.say("wrong")
    clock.now_s += EACH_S
    refusals.say("wrong")
    assert len(caplog.messages) == 2


def test_a_reason_is_cut_and_stays_one_line(refusals, caplog):
    refusals.say("x\nWARNING forged\x1b[2J" + "a" * 100_000)
    (line,) = caplog.messages
    assert line.isprintable()
    assert len(line) < 2 * LONGEST

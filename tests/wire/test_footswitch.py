"""A foot on a bouncing contact makes one mark; a foot that stays takes back."""

import pytest

from logger.wire.footswitch import ByteMarks, Debounce

MS = 1_000_000


def steps(states: list[tuple[int, bool]], speed: float = 1.0) -> list[tuple[str, float]]:
    """Feed (time in ms, closed) pairs, looked at each 10 ms in between."""
    contact, found = Debounce(speed), []
    changes = dict(states)
    closed = False
    for t_ms in range(0, max(changes) + 400, 10):
        closed = changes.get(t_ms, closed)
        found += [(s.kind, s.t_ns / MS) for s in contact.feed(closed, t_ms * MS)]
    return found


def test_the_first_edge_is_the_time():
    assert steps([(100, True), (250, False)]) == [("foot_mark", 100.0)]


def test_bounces_within_50_ms_do_not_count():
    bouncing = [(100, True), (110, False), (120, True), (130, False), (140, True), (300, False)]
    assert steps(bouncing) == [("foot_mark", 100.0)]


def test_bounces_at_the_release_do_not_count():
    bouncing = [(100, True), (300, False), (320, True), (340, False), (420, True), (430, False)]
    assert steps(bouncing) == [("foot_mark", 100.0)]


def test_a_tap_shorter_than_the_bounce_counts_once():
    assert steps([(100, True), (120, False)]) == [("foot_mark", 100.0)]


@pytest.mark.parametrize(("apart_ms", "marks"), [(140, 1), (160, 2)])
def test_the_contact_must_be_open_for_150_ms_before_the_next_mark(apart_ms, marks):
    found = steps([(100, True), (300, False), (300 + apart_ms, True), (600, False)])
    assert [kind for kind, _ in found] == ["foot_mark"] * marks


def test_a_hold_takes_back_its_own_mark_and_the_one_before():
    found = steps([(100, True), (200, False), (1000, True), (2700, False)])
    assert [kind for kind, _ in found] == ["foot_mark", "foot_mark", "foot_undo", "foot_undo"]
    assert found[2][1] == 2510.0


def test_a_hold_of_less_than_1_5_s_is_a_mark():
    assert [kind for kind, _ in steps([(100, True), (1600, False)])] == ["foot_mark"]


def test_a_long_hold_is_said_once():
    assert len(steps([(100, True), (9000, False)])) == 3


def test_on_a_fast_clock_the_foot_is_as_slow_as_ever():
    """At 20 times, 150 ms of a foot are 3 s of the run."""
    contact = Debounce(20.0)
    assert not contact.feed(False, -1)
    assert contact.feed(True, 0)
    assert not contact.feed(False, 1_500 * MS)
    assert not contact.feed(True, 3_000 * MS)


def test_a_contact_that_is_closed_from_the_start_is_no_mark():
    assert steps([(0, True), (2000, False)]) == []


def test_bytes_within_150_ms_are_one_mark():
    marks = ByteMarks("M")
    assert [s.t_ns for s in marks.feed(b"MM", 0)] == [0]
    assert marks.feed(b"M", 100 * MS) == []
    assert marks.feed(b"x", 400 * MS) == []
    assert [s.t_ns for s in marks.feed(b"..M", 500 * MS)] == [500 * MS]

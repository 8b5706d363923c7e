"""Whatever engine, parser or store raise, what has been read is stored and recording goes on."""

import threading

import pytest

from logger.control.door import request_of
from logger.control.requests import RunEnd
from logger.model.event import Event
from logger.watch.engine.engine import Engine


def send(threads, count, first=0):
    """Let the scale send masses that count up, in batches of the recorder's own making."""
    for number in range(first, first + count):
        threads.say("data", b"ST,GS,+%8.1f  g\r\n" % number, later_ns=40_000_000)


def whole(values, count):
    return values == [float(n) for n in range(count)]


@pytest.fixture
def reading(threads, eventually):
    """The threads with an open port whose first line was read."""
    threads.say("open")
    threads.say("data", b"\r\n", later_ns=20_000_000)
    send(threads, 1)
    eventually(lambda: threads.file.values == [0.0])
    return threads


def test_an_event_that_json_refuses_is_named_and_takes_no_reading_with_it(
    reading, eventually, monkeypatch
):
    """The store's own writer does this: JSON has no word for an object."""
    file, write = reading.file, reading.file.write

    def refusing(batch):
        if any("what" in e.data for e in batch.events):
            raise TypeError("Object of type object is not JSON serializable")
        return write(batch)

    monkeypatch.setattr(file, "write", refusing)
    done = threading.Event()
    real = reading.owner.current.pipeline.advance

    def advance(now_ns):
        said = real(now_ns)
        if not done.is_set():
            send(reading, 20, first=1)
            done.set()
            bad = Event(t_ns=now_ns, kind="ready", source="engine", data={"what": object()})
            said = [*said, bad, Event(t_ns=now_ns, kind="crossed", source="engine")]
        return said

    monkeypatch.setattr(reading.owner.current.pipeline, "advance", advance)
    eventually(lambda: len(file.values) >= 21)
    eventually(lambda: "not_saved" in file.kinds)
    assert whole(file.values, 21)
    assert "crossed" in file.kinds
    assert "ready" not in file.kinds


@pytest.mark.parametrize("times", [1, 10**9], ids=["once", "for ever"])
@pytest.mark.parametrize("what", ["_reading", "_tick", "_event"])
def test_a_bug_in_judging_is_told_once_and_readings_go_on(
    reading, eventually, monkeypatch, what, times
):
    real, left = getattr(Engine, what), [times]

    def buggy(self, *args):
        if left[0] > 0:
            left[0] -= 1
            raise ZeroDivisionError("a watcher's bug")
        return real(self, *args)

    monkeypatch.setattr(Engine, what, buggy)
    file = reading.file
    for start in range(1, 41, 10):
        send(reading, 10, first=start)
        reading.inbox.ask(request_of("mark", {}))
    eventually(lambda: len(file.values) >= 41)
    eventually(lambda: "bug_in_judging" in file.kinds)
    assert whole(file.values, 41)
    assert file.kinds.count("bug_in_judging") == 1
    assert file.kinds.count("mark") == 4


def test_a_run_ends_although_its_judge_raises(reading, monkeypatch):
    def buggy(self, t_ns):
        raise KeyError("a bug at the end")

    monkeypatch.setattr(Engine, "finish", buggy)
    assert reading.inbox.ask(RunEnd())["run"] == "r"
    assert reading.file.ended_utc_ns is not None
    assert "bug_in_judging" in reading.file.kinds


def test_a_screen_whose_state_cannot_be_drawn_says_so_while_readings_go_on(
    reading, eventually, monkeypatch
):
    def buggy(self, t_ns):
        raise IndexError("a bug in the screen")

    monkeypatch.setattr(Engine, "state", buggy)
    state = reading.latest.ask()
    assert "a bug in judging" in state["view"]["say"]
    assert state["phase"] == "recording"
    send(reading, 10, first=1)
    eventually(lambda: len(reading.file.values) >= 11)
    assert whole(reading.file.values, 11)


def test_bytes_that_meet_a_bug_in_reading_are_kept(reading, eventually, monkeypatch):
    wiring, chunks = reading.owner.current.wiring, []
    real, write = wiring.take, reading.file.write

    def take(instrument, kind, data, t_ns):
        if b"3.0" in data:
            raise IndexError("a parser's bug")
        return real(instrument, kind, data, t_ns)

    def noting(batch):
        chunks.extend(batch.chunks)
        return write(batch)

    monkeypatch.setattr(wiring, "take", take)
    monkeypatch.setattr(reading.file, "write", noting)
    send(reading, 6, first=1)
    eventually(lambda: len(reading.file.values) >= 6)
    assert reading.file.values == [0.0, 1.0, 2.0, 4.0, 5.0, 6.0]
    assert any(b"3.0" in c.data for c in chunks)
    eventually(lambda: "bug_in_reading" in reading.file.kinds)


@pytest.mark.parametrize("broken", [RuntimeError("a bug"), MemoryError()], ids=["bug", "memory"])
def test_a_store_that_raises_anything_is_asked_again_and_nothing_is_lost(
    reading, eventually, monkeypatch, broken
):
    file, write = reading.file, reading.file.write
    out_of_order = threading.Event()
    out_of_order.set()

    def failing(batch):
        if out_of_order.is_set():
            file.refused.set()
            raise broken
        return write(batch)

    monkeypatch.setattr(file, "write", failing)
    send(reading, 10, first=1)
    assert file.refused.wait(60.0)
    eventually(lambda: reading.latest.ask()["recorder"]["disk"] == "full")
    send(reading, 10, first=11)
    out_of_order.clear()
    eventually(lambda: len(file.values) >= 21)
    assert whole(file.values, 21)
    eventually(lambda: "disk_ok" in file.kinds)


def test_a_store_that_raises_once_loses_nothing(reading, eventually, monkeypatch):
    file, write, left = reading.file, reading.file.write, [1]

    def failing(batch):
        if left[0]:
            left[0] -= 1
            raise RuntimeError("a bug")
        return write(batch)

    monkeypatch.setattr(file, "write", failing)
    send(reading, 10, first=1)
    eventually(lambda: len(file.values) >= 11)
    assert whole(file.values, 11)
    assert "not_saved" not in file.kinds


def test_results_that_json_refuses_do_not_keep_a_run_open(reading, monkeypatch):
    finish = reading.file.finish

    def refusing(results, ended_utc_ns):
        if results is not None:
            raise TypeError("Object of type set is not JSON serializable")
        finish(results, ended_utc_ns)

    monkeypatch.setattr(reading.file, "finish", refusing)
    assert reading.inbox.ask(RunEnd())["run"] == "r"
    assert reading.file.ended_utc_ns is not None

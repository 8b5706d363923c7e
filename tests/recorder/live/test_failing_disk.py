"""A disk that fails for a while: what it did not take waits in memory and is written later."""

import threading

import pytest

from logger.control.door import request_of
from logger.control.requests import RunEnd


@pytest.mark.parametrize("breaks", [False, True])
def test_readings_that_a_failing_disk_refused_are_written_when_it_works_again(
    threads, eventually, breaks
):
    file = threads.file
    for number in range(20):
        if number == 10 and breaks:
            eventually(lambda: len(file.values) >= 9)
            file.broken.set()
        threads.say("open" if number == 0 else "data")
        threads.say("data", b"ST,GS,+%8.1f  g\r\n" % number, later_ns=40_000_000)
    if breaks:
        eventually(file.refused.is_set)
        assert threads.latest.ask()["recorder"]["disk"] == "full"
        file.broken.clear()
    eventually(lambda: len(file.values) >= 19)
    assert file.values == [float(n) for n in range(20 - len(file.values), 20)]


def test_a_run_whose_end_the_disk_refused_is_ended_and_answered_when_it_works_again(
    threads, eventually
):
    """The disk fails between the command and its commit, so it cannot be refused at once."""
    file, answers = threads.file, []
    file.free.clear()
    threads.say("open")
    assert file.held.wait(60.0)
    asking = threading.Thread(target=lambda: answers.append(threads.inbox.ask(RunEnd())))
    asking.start()
    eventually(lambda: not threads.owner.current.recording)
    file.broken.set()
    file.free.set()
    assert file.refused.wait(60.0)
    assert file.ended_utc_ns is None
    assert answers == []
    file.broken.clear()
    asking.join(20.0)
    assert [a["run"] for a in answers] == ["r"]
    assert file.ended_utc_ns is not None
    assert "run_end" in file.kinds


def test_an_act_is_answered_only_after_its_commit_while_the_engine_goes_on(threads, eventually):
    file, answers = threads.file, []
    file.free.clear()
    threads.say("open")
    assert file.held.wait(60.0)
    asking = threading.Thread(
        target=lambda: answers.append(threads.inbox.ask(request_of("mark", {"text": "a"})))
    )
    asking.start()
    threads.say("data", b"\r\nST,GS,+     7.0  g\r\n")
    pipeline = threads.owner.current.pipeline
    eventually(lambda: pipeline.state(threads.clock.now_ns()).channels[0].value == 7.0)
    assert answers == []
    assert file.kinds == []
    file.free.set()
    asking.join(20.0)
    assert [a["kind"] for a in answers] == ["mark"]
    assert file.kinds[answers[0]["seq"]] == "mark"


def test_a_bug_in_one_turn_is_told_to_its_command_and_the_next_turn_is_written(
    threads, eventually, monkeypatch
):
    file = threads.file
    write = file.write

    def buggy(batch):
        if any(e.kind == "note" for e in batch.events):
            raise TypeError("a bug")
        return write(batch)

    monkeypatch.setattr(file, "write", buggy)
    with pytest.raises(TypeError, match="a bug"):
        threads.inbox.ask(request_of("note", {"text": "x"}))
    assert threads.inbox.ask(request_of("mark", {}))["kind"] == "mark"

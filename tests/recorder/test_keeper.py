"""Who keeps a recorder: how long a silent one is waited for, and whose it is after a kill."""

import pytest

from logger.control.address import Address
from logger.control.client import GoneError
from logger.model.errors import BainlogError, BusyError
from logger.recorder import keeper as room
from logger.recorder.keeper import KEEPER_LOCK, STOPPED_S, Keeper
from logger.recorder.launch import FoundRecorder
from logger.store.folder.datafolder import DataFolder
from logger.store.folder.lock import FileLock

ANSWER_S = 10.0
"""How long a client waits for an answer of a stopped recorder [s]."""


class Wall:
    """A clock that only silent recorders move on."""

    now_s = 1_000.0

    def monotonic(self):
        return self.now_s


@pytest.fixture
def wall(monkeypatch):
    found = Wall()
    monkeypatch.setattr(room, "time", found)
    monkeypatch.setattr(room, "LOOK_S", 0.0)
    return found


@pytest.fixture
def stopped(wall, monkeypatch):
    """Return a function that makes the recorder silent for so long [s]."""

    def silent(lasting_s):
        until_s = wall.now_s + lasting_s

        class Asked:
            def __init__(self, folder):
                pass

            def __enter__(self):
                return self

            def __exit__(self, *failure):
                pass

            def ask(self, do):
                if wall.now_s < until_s:
                    wall.now_s += ANSWER_S
                    raise GoneError("no answer")
                return {"pid": 1}

        monkeypatch.setattr(room, "Client", Asked)

    return silent


@pytest.fixture
def folder(tmp_path):
    """A data folder that a recorder holds."""
    found = DataFolder(tmp_path / "data")
    with found.lock():
        Address(port=1, token="t" * 43, pid=1).write(found.path)
        yield found


def keeper_of(folder, said):
    def begin():
        pytest.fail("another recorder was started beside a living one")

    return Keeper(folder.path, begin, said.append)


@pytest.mark.parametrize("lasting_s", [30.0, STOPPED_S - 2 * ANSWER_S])
def test_a_recorder_that_is_silent_for_30_s_is_waited_for(folder, stopped, lasting_s):
    said = []
    keeper = keeper_of(folder, said)
    stopped(lasting_s)
    assert keeper.find()
    assert said[0].endswith("does not answer; waiting for it.")
    assert said[1].startswith("The recorder answers again, after")
    assert len(said) == 2


def test_one_that_stays_silent_is_named_in_the_end(folder, stopped):
    keeper = keeper_of(folder, [])
    stopped(10 * STOPPED_S)
    with pytest.raises(BainlogError, match=r"process 1\) holds .* and does not answer"):
        keeper.find()


def test_a_kept_recorder_that_is_silent_is_not_replaced_however_long(folder, wall):
    said = []
    keeper = keeper_of(folder, said)
    keeper.process = FoundRecorder(folder.path, 1)
    for _ in range(100):
        wall.now_s += ANSWER_S
        assert not keeper.unanswered()
    keeper.answered()
    assert said[1] == "The recorder answers again, after 16 min 40 s."


def test_one_command_keeps_a_recorder_and_another_learns_whether_it_was_killed(folder):
    first, second = keeper_of(folder, []), keeper_of(folder, [])
    assert first.take()
    assert not first.left_behind
    assert not second.take()
    with pytest.raises(BusyError, match="is recorded by the command of process"):
        second.take_alone()
    first.release()
    assert second.take()
    assert not second.left_behind
    second.release()
    (folder.path / KEEPER_LOCK).write_text('{"pid": 1, "host": "gone"}')  # as a kill leaves it
    assert first.take()
    assert first.left_behind


def test_a_screen_takes_over_only_what_was_left_behind(folder):
    said = []
    keeper = keeper_of(folder, said)
    keeper.adopt_if_left()
    assert keeper.process is None
    with FileLock(folder.path / KEEPER_LOCK, "the recorder"):
        keeper.adopt_if_left()
        assert keeper.process is None
    (folder.path / KEEPER_LOCK).write_text("")
    keeper.adopt_if_left()
    assert isinstance(keeper.process, FoundRecorder)
    assert len(said) == 1
    keeper.release()


def test_a_found_recorder_is_there_while_its_lock_is_held_and_its_end_is_told_apart(tmp_path):
    folder = DataFolder(tmp_path / "data")
    found = FoundRecorder(folder.path, 1)
    with folder.lock():
        Address(port=1, token="t" * 43, pid=1).write(folder.path)
        assert found.poll() is None
        Address(port=1, token="t" * 43, pid=2).write(folder.path)
        assert found.poll() == 0  # another one has its place
        Address(port=1, token="t" * 43, pid=1).write(folder.path)
    assert found.poll() < 0  # the address of a killed one stays
    (folder.path / "recorder.json").unlink()
    assert found.poll() == 0

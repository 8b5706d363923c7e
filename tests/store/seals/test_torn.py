"""A log that does not read to its end is noticed; one cut off in mid-commit is no damage."""

import random
import shutil

import apsw
import pytest

from logger.store.run.records import StoredReading, WriteBatch
from logger.store.run.runfile import RunView, RunWriter
from logger.store.run.schema import log_path
from logger.store.seals.torn import is_torn


@pytest.fixture
def left(writer, run_path, tmp_path):
    """Copies of a run under way and of its log, as a kill leaves them."""
    for second in range(30):
        rows = [StoredReading("fat", second * 10**9, float(second))]
        writer.write(WriteBatch(readings=rows))
    copy = tmp_path / "left" / run_path.name
    copy.parent.mkdir()
    for file in (run_path, log_path(run_path)):
        shutil.copy(file, copy.parent / file.name)
    return copy


def test_any_flipped_bit_of_a_log_is_noticed(left):
    log = log_path(left)
    whole, chance = log.read_bytes(), random.Random(3)
    assert not is_torn(log)
    last = range(len(whole) - 2048 - 24, len(whole))
    for place in (*(chance.randrange(len(whole)) for _ in range(150)), *chance.sample(last, 150)):
        data = bytearray(whole)
        data[place] ^= 1 << chance.randrange(8)
        log.write_bytes(data)
        assert is_torn(log)


def test_a_log_that_a_kill_cut_off_is_whole(left):
    log = log_path(left)
    whole = log.read_bytes()
    for size in (0, 20, 32, len(whole) // 2, len(whole) - 1):
        log.write_bytes(whole[:size])
        assert not is_torn(log)


def test_a_frame_whose_head_alone_was_written_over_an_older_round_is_no_damage(left):
    """What a kill between the two writes of the last frame leaves: nobody was told it is saved."""
    log = log_path(left)
    whole, page = log.read_bytes(), 2048
    last = len(whole) - page
    log.write_bytes(whole[:last] + random.Random(5).randbytes(page))
    assert not is_torn(log)
    middle = 32 + (24 + page) * ((len(whole) - 32) // (24 + page) // 2) + 24
    log.write_bytes(whole[:middle] + random.Random(5).randbytes(page) + whole[middle + page :])
    assert is_torn(log)


def test_frames_of_an_older_round_behind_the_last_commit_are_no_damage(tmp_path):
    path = tmp_path / "x.db"
    db = apsw.Connection(str(path))
    db.pragma("journal_mode", "wal")
    db.execute("CREATE TABLE t (a)")
    for _ in range(60):
        db.execute("INSERT INTO t VALUES (randomblob(500))")
    db.wal_checkpoint(mode=apsw.SQLITE_CHECKPOINT_RESTART)
    db.execute("INSERT INTO t VALUES (1)")
    assert not is_torn(log_path(path))
    db.close()


def test_what_a_torn_log_lost_is_named_before_and_after_the_file_is_written_again(left):
    log = log_path(left)
    data = bytearray(log.read_bytes())
    data[len(data) // 2] ^= 1
    log.write_bytes(data)
    assert [one.part for one in RunView.open(left).damage()] == ["log"]
    with RunWriter.reopen(left) as file:
        file.finish(None, 1)
    assert [one.part for one in RunView.open(left).damage()] == ["log"]
    assert 0 < RunView.open(left).count("fat") < 30

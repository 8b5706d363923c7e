"""A run that was cut, or copied without its log, says so."""

import shutil

import apsw
import pytest

from logger.model.errors import BadFileError
from logger.store.folder.lock import lock_path
from logger.store.run.records import StoredReading, WriteBatch
from logger.store.run.runfile import RunView, RunWriter
from logger.store.run.schema import log_path
from logger.store.seals.damage import sentences

S = 1_000_000_000


def fill(file, start=0):
    for n in range(start, start + 60):
        file.write(WriteBatch(readings=[StoredReading("fat", n * S, 50.0 + n)]))


def parts(view):
    return [damage.part for damage in view.damage()]


@pytest.fixture
def copied(run_path, run_header, tmp_path):
    """A run that was copied while it was recorded, its log beside it."""
    place = tmp_path / "copy"
    place.mkdir()
    with RunWriter.create(run_path, run_header()) as file:
        fill(file)
        for one in (run_path, log_path(run_path)):
            shutil.copy(one, place / one.name)
    return place / run_path.name


def test_a_run_copied_with_its_log_is_whole(copied):
    assert RunView.open(copied).check() == "ok"
    assert RunView.open(copied).count("fat") == 60


@pytest.mark.parametrize("spoil", [lambda log: log.unlink(), lambda log: log.write_bytes(b"")])
def test_a_run_copied_without_its_log_says_so_at_every_look(copied, spoil):
    spoil(log_path(copied))
    for _ in range(3):  # the first look may leave an empty log
        view = RunView.open(copied, tolerant=True)
        assert parts(view) == ["no log"]
        assert "end of the run may be missing" in view.check()
    assert sentences(view.damage()) == [
        "The end of the run may be missing: its log (-wal) was not beside it, or was empty."
    ]


def test_whoever_goes_on_with_such_a_run_does_not_make_it_forgotten(copied):
    log_path(copied).unlink()
    with RunWriter.reopen(copied) as file:
        fill(file)
        file.finish(None, 99 * S)
    assert parts(RunView.open(copied)) == ["no log"]


def test_a_run_that_its_writer_let_go_of_needs_no_log(run_path, run_header):
    with RunWriter.create(run_path, run_header()) as file:
        fill(file)
    assert not log_path(run_path).exists()
    for _ in range(2):
        assert RunView.open(run_path).check() == "ok"
    with RunWriter.reopen(run_path) as file:
        fill(file, 60)
    assert RunView.open(run_path).check() == "ok"
    assert RunView.open(run_path).count("fat") == 120


def test_a_run_let_go_of_under_a_readers_eyes_is_whole(run_path, run_header):
    file = RunWriter.create(run_path, run_header())
    fill(file)
    reader = apsw.Connection(str(run_path), flags=apsw.SQLITE_OPEN_READONLY)
    cursor = reader.execute("SELECT * FROM tail")
    next(cursor)
    file.close()
    reader.close(True)
    assert RunView.open(run_path).check() == "ok"
    assert RunView.open(run_path).count("fat") == 60


def test_a_run_killed_right_after_it_was_made_is_whole(run_path, run_header, tmp_path):
    place = tmp_path / "copy"
    place.mkdir()
    with RunWriter.create(run_path, run_header()):
        for one in (run_path, log_path(run_path)):
            shutil.copy(one, place / one.name)
    assert RunView.open(place / run_path.name).check() == "ok"


@pytest.mark.parametrize("recorded", [0, 60])
def test_only_a_run_killed_at_its_birth_needs_no_log(tmp_path, run_header, recorded):
    """A kill leaves the lock file, and may fall before the first commit of the log."""
    path = tmp_path / "20261125-0914-b4f3.run"
    with RunWriter.create(path, run_header(run_id=path.stem)) as file:
        if recorded:
            fill(file)
    db = apsw.Connection(str(path))
    db.pragma("journal_mode", "wal")
    db.close()
    lock_path(path).write_text("{}")
    expected = ["no log"] if recorded else []
    assert parts(RunView.open(path)) == expected
    RunWriter.reopen(path).close()
    assert parts(RunView.open(path)) == expected


@pytest.mark.parametrize("share", [0.01, 0.3, 0.6])
@pytest.mark.parametrize("logged", [True, False])
def test_a_run_file_that_was_cut_short_says_by_how_much(run_path, run_header, share, logged):
    with RunWriter.create(run_path, run_header()) as file:
        fill(file)
        file.finish(None, 99 * S)
    whole = run_path.read_bytes()
    run_path.write_bytes(whole[: max(100, int(len(whole) * share))])
    if logged:
        log_path(run_path).write_bytes(b"")
    with pytest.raises(BadFileError, match=rf"cut short \(\d+ of {len(whole)} bytes\)"):
        RunView.open(run_path).readings("fat")

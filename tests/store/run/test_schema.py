"""Schema changes are numbered, happen once, and whole."""

import apsw
import pytest

from logger.model.errors import StoreError
from logger.store.run import schema
from logger.store.run.runfile import RunView, RunWriter


def add_smell(db: apsw.Connection) -> None:
    db.execute("ALTER TABLE run ADD COLUMN smell TEXT")


def break_off(db: apsw.Connection) -> None:
    db.execute("ALTER TABLE run ADD COLUMN taste TEXT")
    db.execute("ALTER TABLE no_such_table ADD COLUMN x")


def test_a_file_of_the_version_before_is_brought_up_when_it_is_written(
    writer, run_path, monkeypatch
):
    writer.finish(None, 1)
    monkeypatch.setattr(schema, "CHANGES", (*schema.CHANGES, add_smell))
    assert RunView.open(run_path).status == "ended"
    RunWriter.reopen(run_path).close()
    RunWriter.reopen(run_path).close()
    with apsw.Connection(str(run_path), flags=apsw.SQLITE_OPEN_READONLY) as db:
        assert db.pragma("user_version") == len(schema.CHANGES)
        assert db.execute("SELECT smell FROM run").get is None


def test_a_change_that_breaks_off_leaves_the_file_as_it_was(writer, run_path, monkeypatch):
    writer.finish(None, 1)
    before = run_path.read_bytes()
    monkeypatch.setattr(schema, "CHANGES", (*schema.CHANGES, add_smell, break_off))
    with pytest.raises(StoreError, match="no_such_table"):
        RunWriter.reopen(run_path)
    assert run_path.read_bytes() == before


def test_a_sqlite_that_can_lose_data_is_refused(monkeypatch, tmp_path, run_header):
    monkeypatch.setattr(apsw, "sqlite_lib_version", lambda: "3.51.2")
    with pytest.raises(StoreError, match=r"SQLite 3\.51\.2 can lose data.*3\.51\.3 or later"):
        RunWriter.create(tmp_path / "x.run", run_header())
    assert list(tmp_path.iterdir()) == []


def test_a_recording_file_syncs_each_commit_and_a_reader_cannot_write(writer, run_path):
    db = writer._db
    assert (db.pragma("journal_mode"), db.pragma("synchronous")) == ("wal", 2)
    with schema.reading(run_path) as reader, pytest.raises(apsw.ReadOnlyError):
        reader.execute("DELETE FROM run")

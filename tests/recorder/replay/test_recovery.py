"""What a kill or a reader left behind is put in order at the next start."""

import shutil

import apsw
import pytest

from logger.model.files import bench_from_text, sheet_from_text
from logger.recorder.replay.recovery import close_interrupted, tidy_ended
from logger.store.folder.datafolder import DataFolder
from logger.store.run import tidying
from logger.store.run.records import ChannelRecord, RunHeader, StoredReading, WriteBatch
from logger.store.run.runfile import RunView, RunWriter

BENCH = (
    '[[instrument]]\nid = "s"\nport = "/dev/x"\nshape = "flag-first comma weight"\n'
    '[[channel]]\nid = "m"\ninstrument = "s"\nfield = "mass"\nrole = "bath_scale"\n'
)
ENDED_UTC_NS = 1_795_600_100_000_000_000


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setattr(tidying, "_FOLD_TRIES", 5)
    return DataFolder(tmp_path)


SHEET = '[sheet]\nname = "x"\n'


def begun(folder: DataFolder, run_id: str, *, speed: float = 1.0) -> RunWriter:
    """Return the writer of a run with 500 readings."""
    header = RunHeader(
        run_id=run_id, sheet_json=sheet_from_text(SHEET, "s").model_dump_json(by_alias=True),
        sheet_text=SHEET,
        bench_json=bench_from_text(BENCH, "b").model_dump_json(by_alias=True), bench_text=BENCH,
        started_utc_ns=ENDED_UTC_NS - 100_000_000_000, clock_speed=speed,
        channels=(ChannelRecord("m", "s", "mass", "bath_scale", "g"),),
    )  # fmt: skip
    file = RunWriter.create(folder.run_path(run_id), header)
    file.write(WriteBatch(readings=[StoredReading("m", k * 1000, float(k)) for k in range(500)]))
    return file


def log_of(path):
    return path.with_name(path.name + "-wal")


def test_a_run_that_ended_while_somebody_read_it_is_made_one_file(folder):
    path = folder.run_path("20261125-0913-a3f2")
    file = begun(folder, path.stem)
    with RunView.open(path).together() as reader:
        assert reader.count("m") == 500
        file.finish(None, ENDED_UTC_NS)
    assert log_of(path).exists(), "the reader holds the log, else this shows nothing"
    assert folder.untidy_runs() == [path]
    tidy_ended(folder)
    assert not log_of(path).exists()
    assert folder.untidy_runs() == []
    with RunView.open(path) as view:
        assert view.check() == "ok"
        assert view.status == "ended"
        assert view.readings("m").value.tolist() == [float(k) for k in range(500)]


def test_a_run_that_is_written_or_was_cut_off_is_not_tidied(folder):
    under_way = begun(folder, "20261125-0913-a3f2")
    cut = begun(folder, "20261125-0914-a3f2")
    with RunView.open(folder.run_path("20261125-0914-a3f2")).together():
        cut.close()
        assert log_of(folder.run_path("20261125-0914-a3f2")).exists()
        assert folder.untidy_runs() == []
        assert [p.stem for p in folder.unfinished_runs()] == ["20261125-0914-a3f2"]
    under_way.close()


def test_a_run_that_cannot_be_tidied_now_stays_whole_and_is_told(folder, caplog):
    path = folder.run_path("20261125-0913-a3f2")
    file = begun(folder, path.stem)
    with RunView.open(path).together() as reader:
        assert reader.count("m") == 500
        file.finish(None, ENDED_UTC_NS)
        caplog.clear()
        tidy_ended(folder)
        assert "its log stays beside it" in caplog.text
        assert reader.count("m") == 500
    tidy_ended(folder)
    assert not log_of(path).exists()


def test_a_file_torn_while_a_note_was_written_is_whole_at_the_next_look(folder, tmp_path):
    """The journal beside it takes the half-written pages back; they are never read as they are."""
    path = folder.run_path("20261125-0913-a3f2")
    begun(folder, path.stem).finish(None, ENDED_UTC_NS)
    torn = DataFolder(tmp_path / "torn").run_path(path.stem)
    journal = path.with_name(path.name + "-journal")
    db = apsw.Connection(str(path))
    db.pragma("cache_size", 1)  # so that pages are written before the end
    db.execute("BEGIN IMMEDIATE; UPDATE blob SET data = data || zeroblob(4000)")
    shutil.copy(path, torn)
    shutil.copy(journal, torn.with_name(journal.name))
    db.execute("ROLLBACK")
    db.close()
    assert torn.read_bytes() != path.read_bytes(), "it is torn, else this shows nothing"
    assert torn.with_name(journal.name).stat().st_size > 0
    with RunView.open(torn) as view:
        assert view.check() == "ok"
        assert view.readings("m").value.tolist() == [float(k) for k in range(500)]
    assert torn.read_bytes() == path.read_bytes()


def test_a_run_that_was_cut_off_ends_by_the_speed_of_its_clock(folder):
    path = folder.run_path("20261125-0913-a3f2")
    begun(folder, path.stem, speed=20.0).close()
    close_interrupted(path, {})
    with RunView.open(path) as view:
        lasted_ns = view.ended_utc_ns - view.header.started_utc_ns
        assert view.status == "interrupted"
        assert lasted_ns == round(view.duration_ns / 20.0)
        assert view.duration_ns > 400_000


def test_a_journal_left_beside_an_ended_run_is_tidied_away(folder):
    path = folder.run_path("20261125-0913-a3f2")
    begun(folder, path.stem).finish(None, ENDED_UTC_NS)
    path.with_name(path.name + "-journal").write_bytes(b"")
    assert folder.untidy_runs() == [path]
    tidy_ended(folder)
    assert folder.untidy_runs() == []
    with RunView.open(path) as view:
        assert view.check() == "ok"
        assert view.count("m") == 500

"""Files of older versions open as before and are bound when they are written next."""

import gzip
from pathlib import Path

import apsw
import pytest

from logger.model.errors import StoreError
from logger.store.run.errors import DamagedError
from logger.store.run.runfile import RunView, RunWriter
from logger.store.run.schema import CHANGES

RUNS = Path(__file__).resolve().parents[3] / "fixtures" / "runs"
OLDER = ["format-1", "format-2"]


@pytest.fixture
def older(request, tmp_path):
    path = tmp_path / "older.run"
    path.write_bytes(gzip.decompress((RUNS / f"{request.param}.run.gz").read_bytes()))
    return path


every = pytest.mark.parametrize("older", OLDER, indirect=True)


def change(path: Path, sql: str) -> None:
    with apsw.Connection(str(path)) as db:
        db.execute(sql)


def said(path: Path) -> tuple:
    view = RunView.open(path)
    readings = {c.id: view.readings(c.id).value.tobytes() for c in view.channels()}
    return readings, view.events(), list(view.chunks()), view.results(), view.anchors()


@every
def test_an_older_file_reads_as_before_and_is_bound_when_it_is_written(older):
    before = said(older)
    assert RunView.open(older).damage() == []
    RunWriter.reopen(older).close()
    with apsw.Connection(str(older), flags=apsw.SQLITE_OPEN_READONLY) as db:
        assert db.pragma("user_version") == len(CHANGES)
        for table in ("channel", "instrument", "block", "chunk_block", "event", "anchor"):
            assert db.execute(f"SELECT count(*) FROM {table} WHERE seal IS NULL").get == 0
    assert RunView.open(older).check() == "ok"
    assert said(older) == before


@every
def test_a_bound_file_names_the_channel_whose_columns_are_anothers(older):
    RunWriter.reopen(older).close()
    change(older, "UPDATE block SET columns = (SELECT min(columns) FROM block) WHERE channel = 1")
    name = RunView.open(older).channels()[1].id
    found = RunView.open(older).damage()
    assert {(one.part, one.channel) for one in found} == {("readings", name)}
    assert found[0].to_s > found[0].from_s >= 0
    with pytest.raises(DamagedError, match=f"Readings of {name} are damaged from 0:"):
        RunView.open(older).readings(name)
    tolerant = RunView.open(older, tolerant=True)
    assert len(tolerant.readings(name)) == 0
    assert len(tolerant.readings(tolerant.channels()[0].id)) > 0


@pytest.mark.parametrize("older", ["format-2"], indirect=True)
def test_damage_that_the_older_check_sums_find_stays_damage_when_the_file_is_bound(older):
    with apsw.Connection(str(older)) as db:
        row, data = db.execute(
            "SELECT blob.id, data FROM blob JOIN block ON columns = blob.id LIMIT 1"
        ).fetchone()
        spoilt = data[:40] + bytes([data[40] ^ 4]) + data[41:]
        db.execute("UPDATE blob SET data = ? WHERE id = ?", (spoilt, row))
    RunWriter.reopen(older).close()
    assert [one.part for one in RunView.open(older).damage()] == ["readings"]


@every
def test_a_format_number_that_says_older_does_not_take_the_seals_away(older):
    RunWriter.reopen(older).close()
    change(older, "UPDATE event SET text = 'never said' WHERE seq = 2")
    for version in (1, 2):
        change(older, f"PRAGMA user_version = {version}")
        parts = {one.part for one in RunView.open(older).damage()}
        assert parts == {"format", "events"}
    RunWriter.reopen(older).close()
    with apsw.Connection(str(older)) as db:
        assert db.pragma("user_version") == len(CHANGES)


@every
@pytest.mark.parametrize(
    "thing",
    [
        "CREATE VIEW x AS WITH RECURSIVE c(n) AS (SELECT 1 UNION ALL SELECT n FROM c) "
        "SELECT n FROM c",
        "CREATE TRIGGER x AFTER INSERT ON event BEGIN DELETE FROM event; END",
        "CREATE TABLE x (y)",
    ],
)
def test_a_file_that_holds_more_than_the_tables_of_a_run_is_refused(older, thing):
    change(older, thing)
    for door in (RunView.open, RunWriter.reopen):
        with pytest.raises(StoreError, match=r"holds (view|trigger|table) 'x'"):
            door(older)

"""A run of a newer version is called that, keeps its date, and is an input error of its own."""

import dataclasses
import gzip
import json
import sys
from pathlib import Path

import apsw
import pytest

from logger.cli.main import main
from logger.model.errors import BadFileError
from logger.model.event import Event
from logger.store.folder.catalog import Catalog
from logger.store.folder.datafolder import DataFolder
from logger.store.folder.runbin import RunBin
from logger.store.run.records import WriteBatch
from logger.store.run.runfile import NewerFileError, RunView, RunWriter

KEPT = Path(__file__).resolve().parents[3] / "fixtures" / "runs" / "format-3.run.gz"
RUN = "20261125-0913-a3f2"


@pytest.fixture
def bainlog(folder, monkeypatch, capsys):
    """Run the command in this process; return its exit code, output and errors."""

    def run(*words):
        monkeypatch.setattr(sys, "argv", ["bainlog", *words, "--data", str(folder.path)])
        with pytest.raises(SystemExit) as ended:
            main()
        return (ended.value.code or 0, *capsys.readouterr())

    return run


@pytest.fixture
def kept(tmp_path):
    path = tmp_path / "kept.run"
    path.write_bytes(gzip.decompress(KEPT.read_bytes()))
    return RunView.open(path)


@pytest.fixture
def folder(tmp_path):
    return DataFolder(tmp_path / "data")


def write(folder, header, events=()):
    with RunWriter.create(folder.run_path(RUN), header) as file:
        file.write(WriteBatch(events=list(events)))
        file.finish(None, header.started_utc_ns + 10**9)


def with_new_stage(header):
    sheet = json.loads(header.sheet_json)
    sheet["stage"][0]["kind"] = "freeze_dry"
    return dataclasses.replace(header, run_id=RUN, sheet_json=json.dumps(sheet))


def test_an_unknown_kind_of_stage_is_of_a_newer_edition_and_no_damage(folder, kept, bainlog):
    write(folder, with_new_stage(kept.header))
    view = RunView.open(folder.run_path(RUN))
    assert view.damage() == []
    with pytest.raises(NewerFileError, match=r"made by a newer version .* 'freeze_dry'"):
        view.sheet()
    (entry,) = Catalog(folder).runs()
    assert entry.status == "unreadable"
    assert "made by a newer version" in entry.problem
    assert "damage" not in entry.problem
    assert entry.started_utc_ns == kept.header.started_utc_ns
    for words in (["show", RUN], ["replay", RUN], ["explain", RUN]):
        code, _, said = bainlog(*words)
        assert code == 2, words
        assert len(said.strip().splitlines()) == 1
        assert "update bainlog" in said
    code, listed, _ = bainlog("runs")
    assert code == 0
    assert RUN in listed
    assert "1970" not in listed


def test_a_run_in_the_bin_keeps_its_date_too(folder, kept):
    write(folder, with_new_stage(kept.header))
    wastebin = RunBin(folder)
    wastebin.put(RUN)
    (entry,) = wastebin.entries()
    assert entry.status == "unreadable"
    assert entry.started_utc_ns == kept.header.started_utc_ns


def test_an_unknown_kind_of_event_is_named_and_the_rest_is_shown(folder, kept, bainlog):
    header = dataclasses.replace(kept.header, run_id=RUN)
    write(folder, header, [Event(t_ns=5, kind="teleported", source="engine")])
    (entry,) = Catalog(folder).runs()
    assert (entry.status, entry.damage) == ("ended", ())
    assert "newer version" in entry.problem
    assert "teleported" in entry.problem
    assert "teleported" in bainlog("show", RUN)[1]


def test_a_run_of_this_edition_has_no_such_remark(folder, kept):
    path = folder.run_path(kept.header.run_id)
    path.write_bytes(kept.path.read_bytes())
    (entry,) = Catalog(folder).runs()
    assert (entry.status, entry.problem) == ("ended", "")


def test_a_run_that_does_not_say_when_it_began_has_no_date(folder):
    folder.run_path(RUN).write_bytes(b"no database " * 500)
    (entry,) = Catalog(folder).runs()
    assert entry.started == ""
    assert entry.as_json()["started"] is None


@pytest.mark.parametrize(
    "spoil",
    [
        lambda path: path.write_bytes(b"no database " * 500),
        lambda path: path.write_bytes(path.read_bytes()[:3000]),
        lambda path: sql(path, "UPDATE run SET started_utc_ns = 'x'"),
        lambda path: sql(path, "DROP TABLE tally"),
        lambda path: sql(path, "CREATE VIEW v AS SELECT 1"),
        lambda path: sql(path, "PRAGMA application_id = 7"),
    ],
)
def test_a_run_file_that_does_not_read_is_wrong_input(folder, kept, bainlog, spoil):
    path = folder.run_path(kept.header.run_id)
    path.write_bytes(kept.path.read_bytes())
    spoil(path)
    with pytest.raises(BadFileError):
        RunView.open(path)
    for words in (["show"], ["replay"], ["export", "--to", "json"], ["explain"], ["outcome"]):
        more = ["accepted"] if words == ["outcome"] else []
        code, out, said = bainlog(words[0], kept.header.run_id, *more, *words[1:])
        assert (code, out) == (2, ""), words
        assert len(said.strip().splitlines()) == 1


def sql(path, text):
    with apsw.Connection(str(path)) as db:
        db.execute(text)

"""The list of runs is what the run files say."""

import dataclasses
import shutil

import apsw
import pytest

from logger.model.event import Event
from logger.store.folder.catalog import Catalog
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunWriter, StoredReading, WriteBatch

S = 1_000_000_000
IDS = ("20261125-0913-a3f2", "20261126-1000-00ff", "20261127-1100-a3f0")


@pytest.fixture
def folder(tmp_path, run_header) -> DataFolder:
    """Three ended runs a day apart; the second was rejected."""
    made = DataFolder(tmp_path)
    for day, run_id in enumerate(IDS):
        header = run_header(run_id, started_utc_ns=run_header().started_utc_ns + day * 86_400 * S)
        with RunWriter.create(made.run_path(run_id), header) as file:
            rows = [StoredReading("fat", n * S, 50 + n / 100) for n in range(500)]
            file.write(WriteBatch(readings=rows))
            if day == 1:
                file.set_outcome("rejected", ["greasy"], "too warm at the pour")
            file.finish(None, header.started_utc_ns + 500 * S)
    return made


def ids(entries) -> list[str]:
    return [entry.run_id for entry in entries]


def test_runs_are_listed_newest_first_with_what_matters(folder):
    entries = Catalog(folder).runs()
    assert ids(entries) == list(reversed(IDS))
    row = entries[1].as_json()
    assert row["sheet"] == "Smoked beet and barley roll"
    assert (row["revision"], row["product"]) == (4, "beet roll")
    assert row["started"] == "2026-11-26T09:13:02+01:00"
    assert row["duration_s"] == 499.0
    assert (row["outcome"], row["defects"], row["status"]) == ("rejected", ["greasy"], "ended")
    assert (row["fats"], row["lots"]) == (["cocoa_butter"], ["CB-0412"])
    trace = entries[0].trace()["fat"]
    assert 24 <= len(trace) <= 49
    assert trace[0][0] == 0.0
    assert trace == sorted(trace)


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ({"outcome": "rejected"}, [1]),
        ({"defect": "greasy"}, [1]),
        ({"defect": "leaking"}, []),
        ({"fat": "cocoa_butter"}, [2, 1, 0]),
        ({"fat": "butter"}, []),
        ({"lot": "CB-0412", "outcome": "rejected"}, [1]),
        ({"revision": 3}, []),
        ({"sheet": "Smoked beet and barley roll"}, [2, 1, 0]),
        ({"since_utc_ns": 1_795_594_382 * S + 1}, [2, 1]),
        ({"until_utc_ns": 1_795_594_382 * S}, [0]),
        ({"text": "WARM pour"}, [1]),
        ({"text": "00ff"}, [1]),
        ({"text": "calcium"}, [2, 1, 0]),
        ({"text": "olive"}, []),
    ],
)
def test_filters_leave_what_fits(folder, asked, found):
    assert ids(Catalog(folder).runs(**asked)) == [IDS[n] for n in found]


def test_a_change_to_a_run_shows_at_once(folder):
    assert ids(Catalog(folder).runs(outcome="accepted")) == []
    with RunWriter.reopen(folder.run_path(IDS[0])) as file:
        file.set_outcome("accepted")
        file.add_note("crisp")
    assert ids(Catalog(folder).runs(outcome="accepted")) == [IDS[0]]
    assert ids(Catalog(folder).runs(text="crisp")) == [IDS[0]]


def test_a_run_under_way_and_one_cut_off_are_told_apart(folder, run_header):
    run_id = "20261128-0800-beef"
    file = RunWriter.create(folder.run_path(run_id), run_header(run_id))
    file.write(WriteBatch(events=[Event(t_ns=S, kind="note", source="operator", text="hot")]))
    catalog = Catalog(folder)
    found = catalog.get(run_id)
    assert found is not None
    assert found.status == "recording"
    file.close()
    found = catalog.get(run_id)
    assert found is not None
    assert found.status == "interrupted"


@pytest.mark.parametrize("damage", ["missing", "garbage", "other table"])
def test_the_catalog_is_rebuilt_from_the_files(folder, damage):
    before = Catalog(folder).runs()
    file = folder.catalog_file
    if damage == "missing":
        file.unlink()
    elif damage == "garbage":
        file.write_bytes(b"no database " * 500)
    else:
        import apsw

        with apsw.Connection(str(file)) as db:
            db.execute("UPDATE entry SET data = '{}'")
    assert Catalog(folder).runs() == before


def test_a_removed_run_leaves_the_list_and_a_damaged_one_is_named(folder):
    Catalog(folder).runs()
    folder.run_path(IDS[0]).unlink()
    shutil.copy(__file__, folder.run_path(IDS[1]))
    entries = Catalog(folder).runs()
    assert {e.run_id: e.status for e in entries} == {IDS[1]: "unreadable", IDS[2]: "ended"}
    assert "not a whole run file" in entries[-1].problem


def test_a_folder_that_cannot_keep_a_catalog_still_lists(folder):
    folder.catalog_file.unlink(missing_ok=True)
    folder.catalog_file.mkdir()
    assert ids(Catalog(folder).runs()) == list(reversed(IDS))


def test_a_run_file_that_cannot_be_listed_is_named_and_hides_no_other(folder):
    """A start that is no time: the list of all runs failed over it."""
    bad = IDS[1]
    db = apsw.Connection(str(folder.run_path(bad)))
    db.execute("UPDATE run SET started_utc_ns = 'x'")
    db.close()
    entries = {entry.run_id: entry for entry in Catalog(folder).runs()}
    assert entries[IDS[0]].status == entries[IDS[2]].status == "ended"
    assert entries[bad].status == "unreadable"
    assert bad in entries[bad].problem
    assert len([e.as_json() for e in entries.values()]) == 3


def test_a_half_imported_run_says_so(tmp_path, run_header):
    made = DataFolder(tmp_path)
    header = dataclasses.replace(run_header(IDS[0]), origin="import")
    with RunWriter.create(made.run_path(IDS[0]), header) as file:
        file.write(WriteBatch(readings=[StoredReading("fat", S, 50.0)]))
    (entry,) = Catalog(made).runs()
    assert "only a part of the file" in entry.problem
    assert f"bainlog remove {IDS[0]}" in entry.problem


def test_one_run_is_had_as_it_was_listed_until_its_file_changes(folder):
    catalog = Catalog(folder)
    assert catalog.kept(IDS[1]) is None  # never listed
    listed = {entry.run_id: entry for entry in catalog.runs()}
    assert catalog.kept(IDS[1]) == listed[IDS[1]]
    assert catalog.kept("20261125-0913-ffff") is None
    with RunWriter.reopen(folder.run_path(IDS[1])) as file:
        file.add_note("tasted again")
    assert catalog.kept(IDS[1]) is None
    assert catalog.kept(IDS[0]) == listed[IDS[0]]

"""The bin: runs go in and come back; only a hand empties it."""

import pytest

from logger.model.errors import InputError
from logger.store.folder.catalog import Catalog
from logger.store.folder.datafolder import DataFolder
from logger.store.folder.runbin import RunBin
from logger.store.run.records import StoredReading, WriteBatch
from logger.store.run.runfile import RunWriter

RUN = "20261125-0913-a3f2"


@pytest.fixture
def folder(tmp_path, run_header):
    made = DataFolder(tmp_path / "data")
    with RunWriter.create(made.run_path(RUN), run_header(RUN)) as file:
        file.write(WriteBatch(readings=[StoredReading("fat", n * 1000, n / 2) for n in range(9)]))
        file.finish(None, 1_795_600_100_000_000_000)
    return made


def test_a_removed_run_leaves_the_list_and_comes_back_as_it_was(folder):
    before, wastebin = folder.run_path(RUN).read_bytes(), RunBin(folder)
    assert [e.run_id for e in Catalog(folder).runs()] == [RUN]
    wastebin.put(RUN)
    assert Catalog(folder).runs() == []
    assert [(e.run_id, e.sheet) for e in wastebin.entries()] == [
        (RUN, "Smoked beet and barley roll")
    ]
    assert wastebin.put_back("a3f2") == RUN
    assert folder.run_path(RUN).read_bytes() == before
    assert [e.run_id for e in Catalog(folder).runs()] == [RUN]
    assert wastebin.run_ids() == []


def test_the_run_being_recorded_is_never_removed(folder, run_header):
    other = "20261126-1000-00ff"
    with RunWriter.create(folder.run_path(other), run_header(other)):
        with pytest.raises(InputError, match="being recorded"):
            RunBin(folder).put(other)
        assert folder.run_ids() == [RUN, other]


def test_what_a_kill_left_beside_a_run_goes_with_it(folder, run_header, tmp_path):
    """The log holds readings that the file alone lacks."""
    other = "20261126-1000-00ff"
    file = RunWriter.create(folder.run_path(other), run_header(other))
    file.write(WriteBatch(readings=[StoredReading("fat", n * 1000, n / 2) for n in range(9)]))
    killed = DataFolder(tmp_path / "killed")
    for path in folder.runs.glob(f"{other}.run*"):
        if not path.name.endswith((".lock", "-shm")):
            (killed.runs / path.name).write_bytes(path.read_bytes())
    file.close()
    assert len(list(killed.runs.iterdir())) == 2
    RunBin(killed).put(other)
    assert list(killed.runs.iterdir()) == []
    RunBin(killed).put_back(other)
    with killed.view(other) as view:
        assert view.count("fat") == 9


def test_neither_way_writes_over_a_run(folder):
    wastebin = RunBin(folder)
    data = folder.run_path(RUN).read_bytes()
    wastebin.put(RUN)
    folder.run_path(RUN).write_bytes(data)
    with pytest.raises(InputError, match="already in the bin"):
        wastebin.put(RUN)
    with pytest.raises(InputError, match="already among the runs"):
        wastebin.put_back(RUN)
    with pytest.raises(InputError, match="'zzz': there is no such run in the bin"):
        wastebin.put_back("zzz")
    assert wastebin.size(RUN) == len(data)


def test_emptying_deletes_what_was_named_and_no_more(folder):
    wastebin = RunBin(folder)
    wastebin.put(RUN)
    wastebin.empty([])
    assert wastebin.run_ids() == [RUN]
    wastebin.empty([RUN])
    assert list(wastebin.path.iterdir()) == []


def test_a_run_in_the_bin_that_cannot_be_read_is_listed_as_such(folder):
    wastebin = RunBin(folder)
    folder.run_path(RUN).write_bytes(b"nothing")
    wastebin.put(RUN)
    (entry,) = wastebin.entries()
    assert entry.status == "unreadable"

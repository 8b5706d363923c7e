"""Copies of a data folder: consistent, whole or not at all, and taken back only as they were."""

import json
import os
import threading
import zipfile

import pytest

from logger.model.errors import InputError, StoreError
from logger.store.folder import backup
from logger.store.folder.backup import LIST, back_up, restore_folder
from logger.store.folder.catalog import Catalog
from logger.store.folder.datafolder import DataFolder
from logger.store.folder.earlier import keep
from logger.store.run.records import StoredReading, WriteBatch
from logger.store.run.runfile import RunView, RunWriter

ENDED, OPEN = "20261125-0913-a3f2", "20261126-1000-00ff"


def rows(first, count=100):
    return WriteBatch(
        readings=[
            StoredReading("fat", n * 1_000_000, float(n)) for n in range(first, first + count)
        ]
    )


@pytest.fixture
def place(tmp_path, run_header):
    """A folder with an ended run, one under way, a sheet with an earlier revision, a bench."""
    folder = DataFolder(tmp_path / "data")
    with RunWriter.create(folder.run_path(ENDED), run_header(ENDED)) as file:
        file.write(rows(0))
        file.finish(None, 1_795_600_100_000_000_000)
    folder.save_sheet("roll", '[sheet]\nname = "roll"\n')
    keep(folder, "roll", 1)
    folder.bench_file.write_text('[bench]\nname = "Table 2"\n')
    folder.keep_ballast(1000)
    Catalog(folder).runs()
    with RunWriter.create(folder.run_path(OPEN), run_header(OPEN)) as file:
        file.write(rows(0))
        yield folder, file


@pytest.mark.parametrize("name", ["copy", "copy.zip"])
def test_a_copy_made_while_recording_comes_back_the_same(place, tmp_path, name):
    folder, file = place
    copied = back_up(folder, tmp_path / name)
    file.write(rows(100))  # the recorder is not in the way, nor the copy in its
    assert [c.name for c in copied] == [
        "bench.toml", "sheets/earlier/roll.1.sheet.toml", "sheets/roll.sheet.toml",
        f"runs/{ENDED}.run", f"runs/{OPEN}.run",
    ]  # fmt: skip
    assert not any(c.problem for c in copied)
    restore_folder(tmp_path / name, tmp_path / "new")
    again = DataFolder(tmp_path / "new")
    assert again.run_path(ENDED).read_bytes() == folder.run_path(ENDED).read_bytes()
    assert again.sheet_text("roll") == folder.sheet_text("roll")
    with again.view(OPEN) as view:
        assert view.check() == "ok"
        assert view.readings("fat").value.tolist() == [float(n) for n in range(100)]
        assert view.status == "interrupted"
    assert sorted(e.run_id for e in Catalog(again).runs()) == [ENDED, OPEN]
    assert sorted(p.name for p in again.runs.iterdir()) == [f"{ENDED}.run", f"{OPEN}.run"]
    with RunWriter.reopen(again.run_path(OPEN)) as goes_on:
        goes_on.write(rows(100))


def test_copies_made_during_many_commits_hold_whole_commits(place, tmp_path):
    folder, file = place
    stopping, number = threading.Event(), 1

    def commit():
        nonlocal number
        while not stopping.is_set():
            file.write(rows(number * 100))
            number += 1
            file.compact(force=True)

    writer = threading.Thread(target=commit)
    writer.start()
    try:
        for turn in range(6):
            back_up(folder, tmp_path / f"copy{turn}")
            with RunView.open(tmp_path / f"copy{turn}/runs/{OPEN}.run") as view:
                values = view.readings("fat").value.tolist()
                assert view.check() == "ok"
            assert values == [float(n) for n in range(len(values))]
            assert len(values) % 100 == 0
    finally:
        stopping.set()
        writer.join()


@pytest.mark.parametrize("name", ["copy", "copy.zip"])
def test_a_copy_that_fails_half_way_leaves_nothing(place, tmp_path, monkeypatch, name):
    folder, _ = place

    def full(source, target):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(backup.shutil, "copyfile", full)
    with pytest.raises(StoreError, match="No space left"):
        back_up(folder, tmp_path / name)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["data"]


def test_nothing_is_written_over(place, tmp_path):
    folder, _ = place
    back_up(folder, tmp_path / "copy")
    with pytest.raises(InputError, match="already exists"):
        back_up(folder, tmp_path / "copy")
    with pytest.raises(InputError, match="already holds files"):
        restore_folder(tmp_path / "copy", folder.path)
    with pytest.raises(InputError, match="is in the data folder itself"):
        back_up(folder, folder.path / "copy")
    empty = DataFolder(tmp_path / "empty")
    restore_folder(tmp_path / "copy", empty.path)
    assert empty.run_ids() == [ENDED, OPEN]


def test_a_damaged_run_is_copied_as_it_is_and_named(place, tmp_path):
    folder, _ = place
    path = folder.run_path(ENDED)
    path.write_bytes(path.read_bytes()[:5000])
    (bad,) = [c for c in back_up(folder, tmp_path / "copy") if c.problem]
    assert bad.name == f"runs/{ENDED}.run"
    assert (tmp_path / "copy" / bad.name).read_bytes() == path.read_bytes()


def listed(copy):
    return json.loads((copy / LIST).read_text())


def damage_byte(copy):
    path = copy / f"runs/{ENDED}.run"
    data = bytearray(path.read_bytes())
    data[-1] ^= 1
    path.write_bytes(data)


def lengthen(copy):
    with (copy / "bench.toml").open("a") as out:
        out.write("\n")


def lose(copy):
    (copy / "bench.toml").unlink()


def pipe(copy):
    lose(copy)
    os.mkfifo(copy / "bench.toml")


def link_out(copy):
    lose(copy)
    (copy / "bench.toml").symlink_to("/etc/hostname")


def name_another_place(copy):
    text = listed(copy)
    text["files"]["../outside.toml"] = text["files"].pop("bench.toml")
    (copy / LIST).write_text(json.dumps(text))


def bad_list(copy):
    (copy / LIST).write_text("[" * 100_000)


def no_list(copy):
    (copy / LIST).unlink()


@pytest.mark.parametrize(
    "how",
    [damage_byte, lengthen, lose, pipe, link_out, name_another_place, bad_list, no_list],
    ids=lambda how: how.__name__,
)
def test_a_copy_that_is_not_as_it_was_made_is_refused_and_nothing_is_left(place, tmp_path, how):
    folder, _ = place
    back_up(folder, tmp_path / "copy")
    how(tmp_path / "copy")
    with pytest.raises(InputError):
        restore_folder(tmp_path / "copy", tmp_path / "new")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["copy", "data"]


def test_a_zip_that_leads_outside_or_is_damaged_is_refused(place, tmp_path):
    folder, _ = place
    packed = tmp_path / "copy.zip"
    back_up(folder, packed)
    data = bytearray(packed.read_bytes())
    data[200] ^= 0xFF
    (tmp_path / "bad.zip").write_bytes(data)
    with zipfile.ZipFile(tmp_path / "out.zip", "w") as file:
        file.writestr("../x.toml", "x")
        file.writestr(
            LIST,
            json.dumps({"bainlog backup": 1, "files": {"../x.toml": {"size": 1, "sha256": ""}}}),
        )
    (tmp_path / "none.zip").write_bytes(b"PK")
    for name in ("bad.zip", "out.zip", "none.zip", "missing.zip"):
        with pytest.raises(InputError):
            restore_folder(tmp_path / name, tmp_path / "new")
    assert not (tmp_path / "new").exists()
    assert not [p for p in tmp_path.iterdir() if p.name.endswith(".new")]

"""A photo is in the run file with its event, goes out with exports, and is missed when gone."""

import gzip
import hashlib
import io
import json
from pathlib import Path

import apsw
import pytest
from PIL import Image

from logger.model.errors import InputError
from logger.model.photos import jpeg
from logger.model.photos.row import photos_said
from logger.store.exchange.exporting import export
from logger.store.exchange.restoring import restore
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView, RunWriter
from logger.store.run.schema import CHANGES
from logger.store.seals.damage import sentences

OLDER = Path(__file__).resolve().parents[3] / "fixtures" / "runs" / "format-3.run.gz"


def picture(colour="red"):
    file = io.BytesIO()
    Image.new("RGB", (30, 20), colour).save(file, "JPEG")
    return file.getvalue()


@pytest.fixture
def ended(writer, run_path):
    writer.finish(None, 1)
    with RunWriter.reopen(run_path) as file:
        file.add_photo(picture(), text="on the rack")
        file.add_photo(picture("blue"), text="seam", piece=3)
    return run_path


def damage_of(path):
    return [(one.part, one.first) for one in RunView.open(path).damage()]


def test_a_finished_run_takes_photos_and_gives_them_back(ended):
    view = RunView.open(ended)
    rack, seam = photos_said(view.events())
    assert (rack.text, rack.piece, seam.piece, seam.width) == ("on the rack", None, 3, 30)
    assert view.photo(seam.sha256) == picture("blue")
    assert view.photo("0" * 64) is None
    assert view.check() == "ok"


def test_another_form_and_a_photo_too_many_are_refused(ended, monkeypatch):
    monkeypatch.setattr("logger.store.run.saving.MOST_PHOTOS", 2)
    with RunWriter.reopen(ended) as file:
        file.add_photo(picture(), text="the same one again")
        with pytest.raises(InputError, match="enough photos"):
            file.add_photo(picture("green"))
        with pytest.raises(InputError, match="not a whole JPEG"):
            file.add_photo(b"GIF89a")
    assert len(photos_said(RunView.open(ended).events())) == 2


def test_a_changed_or_vanished_photo_is_damage_and_not_shown(ended):
    seam = photos_said(RunView.open(ended).events())[1].sha256
    with apsw.Connection(str(ended)) as db:
        db.execute("UPDATE photo SET data = ? WHERE sha256 = ?", (picture("green"), seam))
    assert damage_of(ended) == [("photo", 2)]
    assert RunView.open(ended).photo(seam) is None
    assert sentences(RunView.open(ended).damage()) == ["A photo is damaged; it is left out."]
    with apsw.Connection(str(ended)) as db:
        db.execute("DELETE FROM photo")
    assert damage_of(ended) == [("photo", 1), ("photo", 2)]


def test_a_photo_that_is_removed_leaves_no_bytes_and_is_no_damage(ended, tmp_path):
    rack, seam = (one.sha256 for one in photos_said(RunView.open(ended).events()))
    assert picture("blue")[-24:] in ended.read_bytes()
    with RunWriter.reopen(ended) as file:
        file.remove_photo(seam)
        with pytest.raises(InputError, match="no such photo"):
            file.remove_photo(seam)
    view = RunView.open(ended)
    assert [one.sha256 for one in photos_said(view.events())] == [rack]
    assert (view.photo(seam), damage_of(ended), view.check()) == (None, [], "ok")
    assert picture("blue")[-24:] not in ended.read_bytes()
    again = restore(DataFolder(tmp_path / "data"), export(view, "json", tmp_path / "out.json"))
    back = RunView.open(DataFolder(tmp_path / "data").run_path(again.run_id))
    assert [one.sha256 for one in photos_said(back.events())] == [rack]


def test_a_file_from_before_photos_reads_as_before_and_takes_one(tmp_path):
    path = tmp_path / "older.run"
    path.write_bytes(gzip.decompress(OLDER.read_bytes()))
    before = RunView.open(path).events()
    assert RunView.open(path).photo("0" * 64) is None
    with RunWriter.reopen(path) as file:
        file.add_photo(picture())
    view = RunView.open(path)
    assert view.events()[:-1] == before
    assert view.check() == "ok"
    with apsw.Connection(str(path), flags=apsw.SQLITE_OPEN_READONLY) as db:
        assert db.pragma("user_version") == len(CHANGES) >= 4


@pytest.mark.parametrize("kind", ["csv", "parquet", "json"])
def test_photos_go_out_with_an_export_and_come_back(ended, tmp_path, kind):
    folder = DataFolder(tmp_path / "data")
    made = export(RunView.open(ended), kind, tmp_path / f"out.{kind}")
    if made.is_dir():
        files = sorted(made.glob("photo-*.jpg"))
        assert {hashlib.sha256(f.read_bytes()).hexdigest()[:16] for f in files} == {
            f.stem.removeprefix("photo-") for f in files
        }
        assert {f.name for f in files} <= set(json.loads((made / "run.json").read_text())["files"])
    run_id = restore(folder, made).run_id
    view = RunView.open(folder.run_path(run_id))
    assert [view.photo(one.sha256) for one in photos_said(view.events())] == [
        picture(),
        picture("blue"),
    ]


def test_an_export_with_another_photo_is_refused_unless_it_was_edited(ended, tmp_path):
    folder = DataFolder(tmp_path / "data")
    made = export(RunView.open(ended), "csv", tmp_path / "out")
    sorted(made.glob("photo-*.jpg"))[0].write_bytes(picture("green"))
    sorted(made.glob("photo-*.jpg"))[1].unlink()
    with pytest.raises(InputError, match="photo is not as it was exported"):
        restore(folder, made)
    view = RunView.open(folder.run_path(restore(folder, made, edited=True).run_id))
    assert [view.photo(one.sha256) for one in photos_said(view.events())] == [None, None]


def test_a_run_has_room_for_its_photos_on_the_control_line():
    from logger.control.messages import MAX_LINE
    from logger.control.requests import MOST_PICTURE

    assert jpeg.MOST_BYTES < MOST_PICTURE < MAX_LINE / 2

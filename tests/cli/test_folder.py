"""``backup``, ``restore``, ``remove`` and ``bin`` as a person uses them."""

import json

import pytest
from click.testing import CliRunner

from logger.cli.main import group
from logger.model.errors import InputError
from logger.store.folder.datafolder import DataFolder
from logger.store.folder.lock import lock_path
from logger.store.folder.scratch import scratch_folder
from logger.store.run.runfile import RunWriter
from tests.trust.kill import _header

RUN = "20261125-0913-a3f2"


@pytest.fixture
def bainlog(tmp_path):
    folder = DataFolder(tmp_path / "data")
    with RunWriter.create(folder.run_path(RUN), _header(RUN)) as file:
        file.finish(None, 1_795_600_100_000_000_000)

    def run(*words, data=folder.path, **how):
        done = CliRunner().invoke(
            group, [*map(str, words), "--data", str(data)], catch_exceptions=False, **how
        )
        return done.output

    return run


def test_a_copy_in_a_folder_that_is_there_gets_a_name_of_its_own(bainlog, tmp_path):
    disk = tmp_path / "disk"
    disk.mkdir()
    assert "1 run" in bainlog("backup", disk)
    (copy,) = disk.iterdir()
    said = json.loads(bainlog("restore", copy, "--json", data=tmp_path / "new"))
    assert [r["file"] for r in said["runs"]] == [f"runs/{RUN}.run"]
    assert RUN in bainlog("runs", "--json", data=tmp_path / "new")
    with pytest.raises(InputError, match="already holds files"):
        bainlog("restore", copy, data=tmp_path / "new")


def test_what_a_killed_copy_left_is_removed_by_the_next_one_which_says_so(bainlog, tmp_path):
    disk = tmp_path / "disk"
    disk.mkdir()
    cut_off = disk / ".copy.0123456789ab.new"
    (cut_off / "runs").mkdir(parents=True)
    lock_path(cut_off).write_text('{"pid": 1, "host": "gone"}')
    with scratch_folder(disk, ".other.", ".new") as under_way:
        said = bainlog("backup", disk / "copy")
        assert under_way.exists()
    assert f"Removed the remains of an interrupted copy: {cut_off}" in said
    assert [path.name for path in disk.iterdir()] == ["copy"]


def test_a_run_goes_into_the_bin_and_back(bainlog):
    assert "--put-back" in bainlog("remove", "last")
    assert RUN not in bainlog("runs", "--json")
    assert [r["id"] for r in json.loads(bainlog("bin", "--json"))["runs"]] == [RUN]
    assert RUN in bainlog("bin", "--put-back", "a3f2")
    assert RUN in bainlog("runs", "--json")
    assert "The bin is empty." in bainlog("bin")


def test_the_bin_is_emptied_only_when_a_person_says_so(bainlog):
    bainlog("remove", RUN)
    with pytest.raises(InputError, match="1 run would be deleted permanently; say so with --yes"):
        bainlog("bin", "--empty")
    assert RUN in bainlog("bin")
    said = bainlog("bin", "--empty", "--yes")
    assert said.index(RUN) < said.index("1 run deleted")
    assert "The bin is empty." in bainlog("bin")

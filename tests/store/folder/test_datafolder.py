"""The data folder: names, one recorder, ballast."""

import re
import subprocess
import sys

import pytest

from logger.model.errors import BusyError, InputError
from logger.store.folder.datafolder import DataFolder
from logger.store.folder.lock import is_held
from logger.store.run.runfile import RunWriter

HOLD = """
import sys
from logger.store.folder.datafolder import DataFolder
lock = DataFolder(sys.argv[1]).lock()
print("held", flush=True)
sys.stdin.read()
"""


def test_a_second_recorder_is_refused_by_the_name_of_the_first(tmp_path):
    folder = DataFolder(tmp_path)
    child = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(tmp_path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    with child:
        assert child.stdout is not None
        assert child.stdout.readline() == "held\n"
        with pytest.raises(BusyError, match=rf"process {child.pid} on \S+ since \d{{4}}-\d\d-\d\d"):
            folder.lock()
        child.kill()
    with folder.lock():
        assert is_held(tmp_path / "recorder.lock")
    assert not is_held(tmp_path / "recorder.lock")


def test_a_run_id_is_local_time_and_four_digits(tmp_path):
    folder = DataFolder(tmp_path)
    winter = 1_795_594_382_000_000_000
    assert re.fullmatch(r"20261125-0913-[0-9a-f]{4}", folder.new_run_id(winter, "Europe/Berlin"))
    assert folder.new_run_id(winter, "No/Where").startswith("20261125-0813-")
    assert re.fullmatch(r"\d{8}-\d{4}-[0-9a-f]{4}", folder.new_run_id())


@pytest.mark.parametrize(
    ("first", "second", "later_s"),
    [
        ("20261126-1100-ffff", "20261126-1100-0000", 20),  # the same minute
        ("20261025-0230-0000", "20261025-0210-0000", 2400),  # summer time ended between
        ("20261126-1900-0000", "20261126-0900-0000", 3600),  # carried from east to west
    ],
)
def test_the_last_run_is_the_one_started_last_whatever_its_name(
    tmp_path, run_header, first, second, later_s
):
    folder = DataFolder(tmp_path)
    begun_ns = 1_790_000_000_000_000_000
    for run_id, started_ns in ((first, begun_ns), (second, begun_ns + later_s * 10**9)):
        made = run_header(run_id, started_utc_ns=started_ns)
        RunWriter.create(folder.run_path(run_id), made).close()
    assert folder.find_run("last") == second
    folder.run_path("20260101-1200-0000").write_text("no run")
    assert folder.newest_run() == second


def test_a_folder_without_runs_has_no_last_one(tmp_path):
    assert DataFolder(tmp_path).newest_run() is None


@pytest.mark.parametrize(
    "name",
    ["../../etc/passwd", "20261125-0913-a3f2/..", "", ".", "20261125-0913-A3F2", "/tmp/x",
     "20261125-0913-a3f2\n", "٢٠٢٦١١٢٥-0913-a3f2"],
)  # fmt: skip
def test_no_path_comes_from_outside(tmp_path, name):
    folder = DataFolder(tmp_path)
    with pytest.raises(InputError):
        folder.run_path(name)
    with pytest.raises(InputError):
        folder.find_run(name)
    with pytest.raises(InputError):
        folder.sheet_path(name + "/x")


def test_runs_are_found_by_what_a_person_types(tmp_path, run_header):
    folder = DataFolder(tmp_path)
    for run_id in ("20261125-0913-a3f2", "20261126-1000-00ff", "20261126-1100-a3f0"):
        RunWriter.create(folder.run_path(run_id), run_header(run_id)).close()
    (folder.runs / "notes.run").write_text("x")
    assert len(folder.run_ids()) == 3
    assert folder.find_run("last") == "20261126-1100-a3f0"
    assert folder.find_run("00ff") == "20261126-1000-00ff"
    assert folder.find_run("20261125") == "20261125-0913-a3f2"
    with pytest.raises(InputError, match="2 runs have it in their id"):
        folder.find_run("20261126")
    with pytest.raises(InputError, match="the latest is 20261126-1100-a3f0"):
        folder.find_run("2025")
    assert folder.view("last").header.run_id == "20261126-1100-a3f0"


def test_runs_left_by_a_kill_are_found_and_others_are_not(tmp_path, run_header):
    folder = DataFolder(tmp_path)
    ids = ["20261125-0913-0001", "20261125-0913-0002", "20261125-0913-0003"]
    left, ended, live = (RunWriter.create(folder.run_path(i), run_header(i)) for i in ids)
    left.close()
    ended.finish(None, 1)
    (folder.runs / "20261125-0913-0004.run").write_bytes(b"")
    assert [p.stem for p in folder.unfinished_runs()] == ids[:1]
    live.close()


def test_sheets_are_kept_by_name(tmp_path):
    folder = DataFolder(tmp_path)
    folder.save_sheet("beet roll", '[sheet]\nname = "x"\n')
    assert folder.sheet_names() == ["beet roll"]
    assert "name" in folder.sheet_text("beet roll")
    with pytest.raises(InputError, match="there is beet roll"):
        folder.sheet_text("barley roll")


def test_ballast_is_real_bytes_and_goes_overboard(tmp_path):
    folder = DataFolder(tmp_path)
    assert folder.keep_ballast(300_000)
    assert folder.keep_ballast(300_000)
    assert folder.ballast_file.stat().st_blocks * 512 >= 300_000
    assert folder.drop_ballast()
    assert not folder.drop_ballast()


def test_half_made_run_files_are_cleared(tmp_path):
    folder = DataFolder(tmp_path)
    (folder.runs / "20261125-0913-a3f2.run.new").write_bytes(b"x")
    (folder.runs / "20261125-0913-a3f2.run.new-journal").write_bytes(b"x")
    folder.clear_unborn()
    assert list(folder.runs.iterdir()) == []


def test_the_folder_and_its_runs_are_for_their_user_alone(tmp_path):
    folder = DataFolder(tmp_path / "data")
    assert folder.path.stat().st_mode & 0o777 == 0o700
    assert folder.runs.stat().st_mode & 0o777 == 0o700


def test_a_folder_of_an_earlier_version_is_closed_to_others_and_that_is_said(tmp_path, caplog):
    (tmp_path / "data" / "runs").mkdir(parents=True)
    for place in (tmp_path / "data", tmp_path / "data" / "runs"):
        place.chmod(0o755)
    with caplog.at_level("INFO"):
        folder = DataFolder(tmp_path / "data")
    assert folder.path.stat().st_mode & 0o777 == 0o700
    assert folder.runs.stat().st_mode & 0o777 == 0o700
    assert caplog.text.count("yours alone") == 2


def test_a_folder_that_others_share_is_left_as_it_is(tmp_path):
    """Given as a data folder by mistake, the folder for temporary files stays everybody's."""
    tmp_path.chmod(0o1777)
    folder = DataFolder(tmp_path)
    assert tmp_path.stat().st_mode & 0o7777 == 0o1777
    assert folder.runs.stat().st_mode & 0o777 == 0o700

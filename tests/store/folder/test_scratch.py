"""Folders for the time of one task: gone at the end, and swept after a kill, never before."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from logger.model.errors import StoreError
from logger.store.folder.scratch import scratch_folder, sweep

HOLDER = """
import sys
from pathlib import Path
from logger.store.folder.scratch import scratch_folder
with scratch_folder(Path(sys.argv[1]), ".copy.", ".new") as place:
    (place / "half").write_text("half")
    print(place, flush=True)
    sys.stdin.read()
"""


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_a_scratch_folder_and_its_lock_are_gone_at_the_end(tmp_path):
    with scratch_folder(tmp_path, ".copy.", ".new") as place:
        (place / "half").write_text("half")
        assert sweep(tmp_path, ".", ".new") == []
        assert (place / "half").read_text() == "half"
    assert names(tmp_path) == []


def test_one_that_was_moved_away_stays(tmp_path):
    with scratch_folder(tmp_path, ".copy.", ".new") as place:
        place.rename(tmp_path / "copy")
    assert names(tmp_path) == ["copy"]


@pytest.mark.skipif(os.name == "nt", reason="kills by signal")
def test_what_a_killed_process_left_is_swept_and_what_others_made_is_not(tmp_path):
    for name in (".mine.new", ".copy.0123456789ab.new", ".copy.0123456789ac.old"):
        (tmp_path / name).mkdir()
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / ".copy.0123456789ad.new").symlink_to(tmp_path / "elsewhere")
    (tmp_path / ".copy.0123456789ad.new.lock").write_text("")
    (tmp_path / ".copy.0123456789ae.new.lock").symlink_to(tmp_path / "elsewhere")
    before = names(tmp_path)
    with subprocess.Popen(
        [sys.executable, "-c", HOLDER, tmp_path],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    ) as process:  # fmt: skip
        place = Path(process.stdout.readline().strip())
        assert sweep(tmp_path, ".", ".new") == []
        os.kill(process.pid, signal.SIGKILL)
    assert (place / "half").exists()
    assert sweep(tmp_path, ".", ".new") == [place]
    assert names(tmp_path) == [n for n in before if n != ".copy.0123456789ad.new.lock"]


def test_a_place_that_cannot_be_written_is_said(tmp_path):
    with (
        pytest.raises(StoreError, match="cannot be"),
        scratch_folder(tmp_path / "missing", "x"),
    ):
        pass

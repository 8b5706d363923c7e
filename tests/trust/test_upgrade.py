"""Run files of every format there has been open and say what they said; a later one is refused."""

import gzip
import importlib.util
import json
import subprocess
import sys
from pathlib import Path

import apsw
import pytest

from logger.model.checks import check_of
from logger.model.errors import StoreError
from logger.recorder.replay.replay import compare_raw
from logger.store.folder.catalog import Catalog
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView, RunWriter
from logger.store.run.schema import CHANGES
from logger.wire.shapes.shape import builtin_shapes

ROOT = Path(__file__).resolve().parents[2]
KEPT = sorted((ROOT / "fixtures" / "runs").glob("format-*.run.gz"))
_spec = importlib.util.spec_from_file_location(
    "todays_run", Path(__file__).parent / "todays_run.py"
)
todays_run = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(todays_run)


@pytest.fixture
def kept(tmp_path, request):
    """A kept file unpacked into a data folder, and what it must say."""
    beside = request.param.with_name(request.param.name.replace(".run.gz", ".json"))
    says = json.loads(beside.read_text(encoding="utf-8"))
    folder = DataFolder(tmp_path / "data")
    path = folder.run_path(says["run"])
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(gzip.decompress(request.param.read_bytes()))
    return folder, path, says


every = pytest.mark.parametrize("kept", KEPT, indirect=True, ids=lambda p: p.name)


def test_todays_format_has_its_file():
    assert f"format-{len(CHANGES)}.run.gz" in [p.name for p in KEPT]


@every
def test_a_kept_file_says_what_it_said(kept):
    folder, path, says = kept
    with RunView.open(path) as view:
        assert view.check() == "ok"
        said = json.loads(json.dumps(todays_run.what_it_says(view)))
        findings = said["findings"]
        assert said | {"findings": says.get("findings", findings)} == says | {"findings": findings}
        assert findings
        assert all(label and check_of(key).key == key for key, _, label, _, _ in findings)
        differences = compare_raw(view, builtin_shapes())
    assert sum(d.stored for d in differences) > 500
    assert [(d.channel, d.differing) for d in differences if d.differing] == []
    assert all(d.stored == d.from_raw for d in differences)
    assert [e.run_id for e in Catalog(folder).runs()] == [says["run"]]


@every
def test_a_kept_file_takes_a_note_of_today(kept):
    _, path, says = kept
    with RunWriter.reopen(path) as file:
        file.add_note("tasted again")
    with RunView.open(path) as view:
        assert [e.text for e in view.events()][-1] == "tasted again"
        assert len(view.events()) == len(says["events"]) + 1


@every
def test_a_file_of_a_later_version_is_refused_in_words_and_left_alone(kept):
    folder, path, says = kept
    with apsw.Connection(str(path)) as db:
        db.pragma("user_version", len(CHANGES) + 1)
    before = path.read_bytes()
    for door in (RunView.open, RunWriter.reopen):
        with pytest.raises(StoreError, match=r"newer version"):
            door(path)
    done = subprocess.run(
        [Path(sys.executable).parent / "bainlog", "show", says["run"], "--data", folder.path],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert path.read_bytes() == before

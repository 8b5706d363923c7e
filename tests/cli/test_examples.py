"""The finished runs of the demo: whole, few in bytes, and explained as they went wrong."""

import json
import tarfile
from importlib import resources

import pytest
from click.testing import CliRunner

from logger.cli.main import group
from logger.cli.playing.examples import NAME, put_examples
from logger.cli.why import portrait_of
from logger.review.why.explain import explain
from logger.review.why.knowledge import builtin_knowledge
from logger.store.folder.catalog import Catalog
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView
from logger.virtual.batch.causes import CAUSES
from tests.examples.__main__ import TARGET

MOST_BYTES = 700_000


@pytest.fixture(scope="module")
def truth():
    with (
        resources.files("logger.cli").joinpath(NAME).open("rb") as file,
        tarfile.open(fileobj=file) as tar,
    ):
        return json.load(tar.extractfile("truth.json"))


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = DataFolder(tmp_path_factory.mktemp("data"))
    put_examples(folder)
    return folder


def test_each_root_cause_and_good_runs_are_there_with_outcome_and_defects(folder, truth):
    entries = {e.run_id: e for e in Catalog(folder).runs()}
    assert entries.keys() == truth.keys()
    assert {c for one in truth.values() for c in one["causes"]} == set(CAUSES)
    for run_id, one in truth.items():
        entry = entries[run_id]
        assert entry.status == "ended"
        assert list(entry.defects) == one["defects"]
        assert entry.outcome == ("rejected" if one["defects"] else "accepted")
        assert bool(one["defects"]) == bool(one["causes"])
    assert sum(e.outcome == "accepted" for e in entries.values()) >= 8


def test_each_failed_run_is_explained_against_the_good_ones(folder, truth):
    portraits = {run_id: portrait_of(folder, run_id) for run_id in truth}
    wrong = []
    for run_id, one in truth.items():
        run = portraits[run_id]
        good = [p for r, p in portraits.items() if not truth[r]["causes"] and r != run_id]
        found = explain(run, [g for g in good if g.product == run.product], builtin_knowledge())
        named = [c.mechanism.id for c in found.causes[:3]]
        if named[:1] != one["causes"]:
            wrong.append((run_id, one["causes"], named))
        assert set(one["causes"]) <= set(named), (run_id, one, named)
    assert wrong == []


def test_an_example_says_that_it_is_one(folder, truth):
    run = portrait_of(folder, next(iter(truth)))
    assert "batch of the virtual bench" in run.notes[0]


def test_a_folder_with_a_run_of_its_own_is_left_alone(tmp_path):
    folder = DataFolder(tmp_path)
    folder.run_path("20261125-0913-a3f2").write_bytes(b"mine")
    assert put_examples(folder) == 0
    assert folder.run_ids() == ["20261125-0913-a3f2"]


def test_the_pack_is_small_and_nothing_else_comes_out_of_it(folder, truth):
    assert len(resources.files("logger.cli").joinpath(NAME).read_bytes()) < MOST_BYTES
    assert resources.files("logger.cli").joinpath(NAME) == TARGET
    assert {p.name for p in folder.runs.iterdir()} == {f"{run_id}.run" for run_id in truth}


def test_a_replay_of_an_example_agrees_with_what_it_holds(folder, truth):
    """It was judged from all readings, and one in a few is kept: nothing is overruled."""
    run_id = next(iter(truth))
    done = CliRunner().invoke(group, ["replay", run_id, "--json", "--data", str(folder.path)])
    assert done.exit_code == 0
    found = json.loads(done.output)
    assert "are left" in found["not_replayed"]
    with RunView.open(folder.run_path(run_id)) as view:
        stored = view.results().findings
    assert [f["evidence"] for f in found["findings"]] == [f.evidence for f in stored]

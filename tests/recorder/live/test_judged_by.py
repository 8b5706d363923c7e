"""A live run keeps the slab test it is judged with; another one saved later changes nothing."""

import datetime

import pytest

from logger.control.client import Client
from logger.recorder.care.own_slabs import save_slab
from logger.recorder.launch import start_process
from logger.recorder.replay.replay import replay
from logger.science.fats.fatfile import builtin_fats
from logger.science.gel.slabs import slab_as_toml, slab_test
from logger.store.folder.datafolder import DataFolder
from tests.skin_sheet import SHEET

TIMES_S = [60.0, 120.0, 300.0, 600.0]


def save(folder, day, thick_mm):
    day = datetime.date.fromisoformat(day)
    test, _ = slab_test("alginate,  MEDIUM", day, TIMES_S, thick_mm, stefan=1.8, temp_c=20.0)
    save_slab(folder.slabs_file, test, slab_as_toml(test, TIMES_S, thick_mm, temp_c=20.0))


@pytest.fixture
def folder(tmp_path, bench_files):
    """A data folder whose recorder runs."""
    place = DataFolder(tmp_path / "data")
    process = start_process(place.path, *bench_files)
    yield place
    process.terminate()
    process.wait(60)
    for pipe in (process.stdin, process.stderr):
        if pipe is not None:
            pipe.close()


def test_a_run_begun_after_a_slab_test_goes_by_it_for_ever(folder, eventually):
    save(folder, "2026-03-02", [0.30, 0.43, 0.68, 0.96])
    with Client(folder.path) as client:
        run_id = client.send("start", sheet=SHEET.replace("alginate,", "Alginate,"))["run"]
        eventually(lambda: client.state().stage == "skin")
        client.send("run_end")
    save(folder, "2026-03-09", [0.38, 0.54, 0.86, 1.2])
    with folder.view(run_id) as view:
        live = view.results()
        assert live.values["skin_diffusivity_by"] == "your slab test of 2026-03-02"
        assert replay(view, builtin_fats()).values == live.values
        kinds = [e.kind for e in view.events() if e.source != "engine"]
    assert kinds.index("slab_test") < kinds.index("next")

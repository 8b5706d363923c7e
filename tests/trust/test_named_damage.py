"""Commands and pages name what is damaged of a run, show the rest, and drop no other run."""

import gzip
import json
import os
import shutil
from pathlib import Path

import apsw
import pytest
from click.testing import CliRunner

from dashboard.learn.portraits import Portraits
from dashboard.links import Links
from dashboard.measures import Measures
from dashboard.runs.one import draw_verdict, layout_for
from logger.cli.main import group
from logger.cli.playing.examples import put_examples
from logger.model.errors import BainlogError
from logger.recorder.replay.replay import compare_raw
from logger.store.folder.datafolder import DataFolder
from logger.store.run.view import RunView
from logger.store.seals.damage import Damage
from logger.wire.shapes.shape import builtin_shapes

RUN = Path(__file__).resolve().parents[2] / "fixtures" / "runs" / "format-3"
SAYS = json.loads(RUN.with_suffix(".json").read_text(encoding="utf-8"))


@pytest.fixture
def folder(tmp_path):
    """A data folder with a run whose first channel has lost its columns, and a whole one."""
    made = DataFolder(tmp_path / "data")
    path = made.run_path(SAYS["run"])
    path.write_bytes(gzip.decompress(RUN.with_suffix(".run.gz").read_bytes()))
    shutil.copy(path, made.run_path("20261125-0913-a3f2"))
    with apsw.Connection(str(path)) as db:
        db.execute(
            "UPDATE blob SET data = zeroblob(100) WHERE id = (SELECT min(columns) FROM block)"
        )
    return made


def ask(folder, *words):
    done = CliRunner().invoke(group, [*words, "--data", str(folder.path)])
    assert isinstance(done.exception, SystemExit | BainlogError | None)
    return done


def test_show_names_the_damage_and_shows_the_rest(folder):
    done = ask(folder, "show", SAYS["run"])
    assert done.exit_code == 0
    channel = next(iter(SAYS["channels"]))
    assert f"Readings of {channel} are damaged from 0:" in done.output
    assert "'bainlog replay'" in done.output
    found = json.loads(ask(folder, "show", SAYS["run"], "--json").output)
    assert [(one["part"], one["channel"]) for one in found["damage"]] == [("readings", channel)]
    assert [stage["id"] for stage in found["stages"]] == SAYS["stages"]


def test_runs_marks_the_damaged_file_and_lists_the_other(folder):
    listed = json.loads(ask(folder, "runs", "--json").output)["runs"]
    assert {row["id"]: bool(row["damage"]) for row in listed} == {
        SAYS["run"]: True,
        "20261125-0913-a3f2": False,
    }
    assert "damaged" in ask(folder, "runs").output


def test_an_export_of_a_damaged_run_is_refused_in_one_line(folder, tmp_path):
    done = ask(folder, "export", SAYS["run"], "--to", "json", "-o", str(tmp_path / "out.json"))
    assert done.exit_code != 0
    assert not (tmp_path / "out.json").exists()


def test_replay_takes_damaged_readings_from_the_raw_bytes(folder):
    channel, (count, *_) = next(iter(SAYS["channels"].items()))
    done = ask(folder, "replay", SAYS["run"], "--json")
    assert done.exit_code == 0, done.output
    row = next(one for one in json.loads(done.output)["raw"] if one["channel"] == channel)
    assert row["stored"] + row["damaged"] == row["from_raw"] == count
    assert row["damaged"] > 0
    assert row["differing"] == 0


def test_the_page_of_the_run_says_what_is_damaged(folder):
    links = Links(folder.path)
    layout = layout_for(links, Portraits(links))
    assert "are damaged from 0:" in str(layout(SAYS["run"]))
    assert "are damaged" not in str(layout("20261125-0913-a3f2"))


def test_damage_that_leaves_size_and_time_of_a_file_is_named_once_its_page_is_drawn(folder):
    links, path = Links(folder.path), folder.run_path("20261125-0913-a3f2")
    links.catalog().runs()
    before = path.stat()
    shutil.copyfile(folder.run_path(SAYS["run"]), path)
    os.truncate(path, before.st_size)
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert path.stat().st_size == before.st_size
    portraits = Portraits(links)
    assert "are damaged" not in str(layout_for(links, portraits)(path.stem))
    *_, damage = draw_verdict(links, portraits, path.stem, Measures())
    assert "are damaged from 0:" in str(damage)


def test_the_examples_of_a_demo_are_sealed_like_any_run(tmp_path):
    folder = DataFolder(tmp_path)
    put_examples(folder)
    path = folder.run_path(folder.run_ids()[0])
    assert {p.suffix for p in folder.runs.iterdir()} == {".run"}
    with apsw.Connection(str(path)) as db:
        text = db.execute("SELECT sheet_text FROM run").get
        # The file is another by one letter, and as readable as before.
        db.execute("UPDATE run SET sheet_text = ?", (text.replace("salt", "malt", 1),))
    with RunView.open(path, tolerant=True) as view:
        assert [one.part for one in view.damage()] == ["sheet text"]


class Holed(RunView):
    """A run whose raw bytes are gone from 10 to 15 s, as a tolerant view gives it."""

    def chunks(self, *args, **bounds):
        for chunk in super().chunks(*args, **bounds):
            if not 10e9 <= chunk.t_ns <= 15e9:
                yield chunk

    def damage(self):
        return [Damage(part="raw bytes", from_s=10.0, to_s=15.0)]


def test_lost_raw_bytes_do_not_make_whole_readings_differ(tmp_path):
    path = tmp_path / "one.run"
    path.write_bytes(gzip.decompress(RUN.with_suffix(".run.gz").read_bytes()))
    with RunView.open(path) as view:
        whole = compare_raw(view, builtin_shapes())
    assert {one.differing for one in whole} == {0}
    with Holed.open(path, tolerant=True) as view:
        found = compare_raw(view, builtin_shapes())
    assert [one.stored for one in found] == [one.stored for one in whole]
    assert any(one.from_raw < one.stored for one in found)
    assert {one.differing for one in found} == {0}

"""The recorder as a process on a real tty: runs, commands, kills, and what it refuses."""

import base64
import contextlib
import io
import os
import random
import signal

import pytest
from click.testing import CliRunner
from PIL import Image

from logger.cli.main import group
from logger.control.client import Client, GoneError, RefusedError
from logger.model.errors import BainlogError, InputError
from logger.model.photos.row import photos_said
from logger.recorder.launch import start_process
from logger.recorder.replay.replay import compare_raw
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView
from logger.wire.shapes.shape import builtin_shapes

_FILE = io.BytesIO()
Image.new("RGB", (30, 20), "red").save(_FILE, "JPEG")
JPEG = _FILE.getvalue()
KILLS = 4
MOST_LOST_S = 1.0


@pytest.fixture
def recorder(tmp_path, bench_files):
    """Return a function that starts a recorder; all are ended at the end of the test."""
    started = []

    def start(**options):
        process = start_process(tmp_path / "data", *bench_files, **options)
        started.append(process)
        return process

    yield start
    for process in started:
        process.terminate()
        process.wait(60)
        for pipe in (process.stdin, process.stderr):
            if pipe is not None:
                pipe.close()


@pytest.fixture
def client(tmp_path):
    with Client(tmp_path / "data") as client:
        yield client


def recorded(folder, run_id):
    with RunView.open(DataFolder(folder).run_path(run_id)) as view:
        return view.readings("bath_scale").value.tolist()


def test_a_run_is_recorded_marked_answered_and_ended_and_gives_the_same_readings_from_raw_bytes(
    recorder, client, tmp_path, eventually
):
    recorder()
    run_id = client.send("start")["run"]
    eventually(lambda: len(recorded(tmp_path / "data", run_id)) > 20)
    marked = client.send("mark", text="first piece")
    with RunView.open(DataFolder(tmp_path / "data").run_path(run_id)) as view:
        assert [e.text for e in view.events() if e.seq == marked["seq"]] == ["first piece"]
        assert view.status == "recording"
    assert client.state().stage == "skin"
    client.send("next", after="skin")
    with pytest.raises(RefusedError, match="begun meanwhile; press again if it is over"):
        client.send("next", after="skin")  # from another screen that did not know yet
    assert eventually(lambda: client.state().stage == "rinse")
    (asked,) = eventually(lambda: client.state().proposals)
    words = ["events", run_id, "--answer", asked.id, "yes", "--data", str(tmp_path / "data")]
    assert CliRunner().invoke(group, words).output == "Answered: yes.\n"
    assert eventually(lambda: client.state().stage is None)
    client.send("run_end")
    with RunView.open(DataFolder(tmp_path / "data").run_path(run_id)) as view:
        assert view.status == "ended"
        assert [s.id for s in view.results().stages] == ["skin", "rinse"]
        (difference,) = compare_raw(view, builtin_shapes())
        assert difference.differing == 0
        assert difference.stored == difference.from_raw > 20
    values = recorded(tmp_path / "data", run_id)
    assert values == [values[0] + n for n in range(len(values))]


REFUSED = {
    "idle": [
        ("mark", {}, "no batch is running"),
        ("run_end", {}, "no batch is running"),
        ("start", {"sheet": "../../etc/passwd"}, "sheet"),
        ("start", {"sheet": "[sheet]\nnam = 1\n"}, "unknown key"),
        ("note", {"run": "../x", "text": "a"}, "run"),
        ("photo", {"run": "../x", "picture": base64.b64encode(JPEG).decode()}, "run"),
        ("photo", {"run": "20261125-0913-a3f2", "picture": "R0lGODlh"}, "not a whole JPEG"),
    ],
    "recording": [
        ("start", {}, "end it first"),
        ("stage", {"stage": "fry"}, "stages are skin, rinse"),
        ("note", {"text": "  "}, "the note is empty"),
        ("register_piece", {"piece": "one", "mass_g": 3}, "piece is 'one'"),
        ("fly", {}, "unknown command"),
    ],
}


def test_what_cannot_be_done_now_is_refused_in_words(refusing):
    phase, client = refusing
    for command, data, why in REFUSED[phase]:
        with pytest.raises(RefusedError, match=why):
            client.send(command, **data)
        assert client.state().phase == phase


def test_a_note_from_the_page_of_the_run_under_way_does_not_end_it(recorder, client, tmp_path):
    recorder()
    run_id = client.send("start")["run"]
    noted = client.send("note", run=run_id, text="foam on top")
    shot = client.send("photo", run=run_id, picture=base64.b64encode(JPEG).decode(), piece=2)
    assert client.state().phase == "recording"
    client.send("run_end")
    with RunView.open(DataFolder(tmp_path / "data").run_path(run_id)) as view:
        assert [e.text for e in view.events() if e.seq == noted["seq"]] == ["foam on top"]
        (photo,) = photos_said(e for e in view.events() if e.seq == shot["seq"])
        assert (photo.piece, view.photo(photo.sha256), view.check()) == (2, JPEG, "ok")


def test_a_second_recorder_is_refused_by_the_name_of_the_first(recorder, client):
    first = recorder()
    with pytest.raises(BainlogError, match=str(first.pid)):
        recorder()


def test_a_bench_with_a_mistake_is_refused_with_file_and_key(recorder, bench_files):
    bench = bench_files[0]
    bench.write_text(bench.read_text().replace('field = "mass"', 'field = "mas"'))
    with pytest.raises(InputError, match="'mas' is not in line format"):
        recorder()


def test_a_terminated_recorder_ends_and_saves_its_run(recorder, client, tmp_path):
    process = recorder()
    run_id = client.send("start")["run"]
    process.terminate()
    assert process.wait(60) == 0
    with RunView.open(DataFolder(tmp_path / "data").run_path(run_id)) as view:
        assert view.status == "ended"
    with pytest.raises(GoneError):
        client.state()


def test_a_recorder_that_must_not_outlive_its_parent_ends_with_it(recorder, client, tmp_path):
    process = recorder(with_parent=True)
    run_id = client.send("start")["run"]
    process.stdin.close()
    assert process.wait(60) == 0
    with RunView.open(DataFolder(tmp_path / "data").run_path(run_id)) as view:
        assert view.status == "ended"


def test_a_run_left_by_another_bench_is_closed_as_interrupted(
    recorder, client, tmp_path, bench_files, eventually
):
    process = recorder()
    run_id = client.send("start")["run"]
    eventually(lambda: len(recorded(tmp_path / "data", run_id)) > 20)
    os.kill(process.pid, signal.SIGKILL)
    process.wait()
    bench_files[0].write_text(bench_files[0].read_text() + '\n[bench]\nname = "Table 9"\n')
    recorder()
    assert client.state().phase == "idle"
    with RunView.open(DataFolder(tmp_path / "data").run_path(run_id)) as view:
        assert view.status == "interrupted"
        assert view.results().stages[0].id == "skin"
        assert view.check() == "ok"


def test_an_outcome_given_later_is_in_the_file(recorder, client, tmp_path):
    recorder()
    run_id = client.send("start")["run"]
    client.send("run_end")
    client.send(
        "outcome", run=run_id, outcome="rejected", defects=["skin burst"], text="in the oil"
    )
    client.send("photo", run=run_id, picture=base64.b64encode(JPEG).decode(), text="burst")
    with RunView.open(DataFolder(tmp_path / "data").run_path(run_id)) as view:
        assert view.outcome().outcome == "rejected"
        assert view.outcome().defects == ("skin burst",)
        (photo,) = photos_said(view.events())
        assert (photo.text, view.photo(photo.sha256)) == ("burst", JPEG)
    client.send("remove_photo", run=run_id, sha256=photo.sha256)
    with RunView.open(DataFolder(tmp_path / "data").run_path(run_id)) as view:
        assert (photos_said(view.events()), view.photo(photo.sha256)) == ((), None)
        assert view.check() == "ok"


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_kills_damage_nothing_and_cost_at_most_a_second_each(
    recorder, client, tmp_path, scale, eventually
):
    """The same run is gone on with after each kill, on the same axis."""
    moments = random.Random(7)
    lost = []
    process = recorder()
    run_id = client.send("start")["run"]
    for _ in range(KILLS):
        before = len(recorded(tmp_path / "data", run_id))
        eventually(lambda n=before: len(recorded(tmp_path / "data", run_id)) > n)
        with contextlib.suppress(RefusedError, GoneError):
            client.send("mark")
        pause = moments.uniform(0.0, 0.3)
        with contextlib.suppress(Exception):
            process.wait(pause)
        sent = scale.sent
        os.kill(process.pid, signal.SIGKILL)
        process.wait()
        with RunView.open(DataFolder(tmp_path / "data").run_path(run_id)) as view:
            assert view.check() == "ok"
        lost.append((sent - recorded(tmp_path / "data", run_id)[-1]) * scale.INTERVAL_S)
        process = recorder()
    assert max(lost) <= MOST_LOST_S
    client.send("run_end")
    with RunView.open(DataFolder(tmp_path / "data").run_path(run_id)) as view:
        assert view.status == "ended"
        assert view.check() == "ok"
        kinds = [e.kind for e in view.events()]
        assert kinds.count("resumed") == KILLS
        assert all(d.differing == 0 for d in compare_raw(view, builtin_shapes()))
    values = recorded(tmp_path / "data", run_id)
    assert values == sorted(set(values)), "a reading stands twice or out of order"

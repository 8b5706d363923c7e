"""What is drawn of a run, whole and for a window, on real run files."""

import base64
import json
from dataclasses import asdict
from urllib.parse import unquote

import numpy as np
import plotly.graph_objects as go
import pytest

from dashboard.app import build_app
from dashboard.links import Links
from dashboard.live.drawing import canvas
from dashboard.measures import Measures
from dashboard.runs import contents, legend
from dashboard.runs.window import BINS, BUDGET, EXACT, room_for, window
from dashboard.stores import Choices
from logger.model.errors import InputError
from logger.model.rows import DerivedRow
from logger.store.blocks.codec import WITHOUT_LAG, packed
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView, RunWriter
from tests.dashboard.made_runs import write_run
from tests.dashboard.pages import text_of


@pytest.fixture
def links(tmp_path, fake_client) -> Links:
    write_run(tmp_path, "20261125-0913-a3f2")
    return Links(tmp_path, fake_client)


def test_a_short_run_is_drawn_reading_by_reading(links):
    with links.open_run("20261125-0913-a3f2") as view:
        drawn = window(view, "fat", None, None)
    assert drawn.exact
    assert np.isfinite(drawn.points.value).sum() == 480


def test_a_long_run_is_sampled_and_keeps_its_extremes(tmp_path, fake_client):
    write_run(tmp_path, "20261125-1013-a3f2", seconds=5000)
    with Links(tmp_path, fake_client).open_run("20261125-1013-a3f2") as view:
        drawn = window(view, "fat", None, None)
        closer = window(view, "fat", 100.0, 200.0)
    assert not drawn.exact
    assert drawn.points.t_s.size < EXACT
    assert np.nanmax(drawn.points.value) == 99.0
    assert closer.exact
    assert closer.points.t_s.min() < 100.0 < 200.0 < closer.points.t_s.max()


def test_a_slope_is_drawn_without_teeth_whichever_way_it_goes(tmp_path, fake_client):
    """Of a stretch that falls the highest comes first, of one that rises the lowest."""
    for run_id, slope in (("20261125-1013-a3f2", 1.0), ("20261125-1113-a3f2", -1.0)):
        write_run(tmp_path, run_id, seconds=5000, slope=slope)
        with Links(tmp_path, fake_client).open_run(run_id) as view:
            drawn = window(view, "fat", None, 1500.0)  # before the spike
        assert not drawn.exact
        value = drawn.points.value[np.isfinite(drawn.points.value)]
        assert (slope * np.diff(value) >= 0.0).all()


@pytest.mark.parametrize("channels", [1, 2, 9, 16, 24])
def test_many_channels_share_what_a_browser_can_draw(channels):
    exact, bins = room_for(channels)
    assert channels * exact <= BUDGET
    assert channels * 2 * bins <= BUDGET
    assert room_for(1) == (EXACT, BINS)


def test_a_gap_of_a_stored_run_stays_a_gap(links):
    with links.open_run("20261125-0913-a3f2") as view:
        points = window(view, "bath_scale", None, None).points
    inside = (points.t_s > 30.0) & (points.t_s < 60.0)
    assert inside.any()
    assert np.isnan(points.value[inside]).all()


def test_the_figure_of_a_run_is_one_that_plotly_takes(links):
    made, said = contents.draw_whole(links, "20261125-0913-a3f2", Choices())
    words, _ = contents.draw_words(links, "20261125-0913-a3f2", Measures(), {})
    figure = go.Figure(made)
    assert [trace.meta for trace in figure.data] == ["fat", "bath_scale"]
    assert figure.data[1].yaxis == "y2"
    assert said == contents.EXACT_SAYS
    assert "Fat: from 20.0" in text_of(words)


def test_a_file_that_takes_the_place_of_another_is_looked_at_anew(links):
    run_id = "20261125-0913-a3f2"
    drawn = []
    for slope in (1.0, -1.0):
        aside = links.data_dir / f"{slope}"
        write_run(aside, run_id, slope=slope)
        DataFolder(aside).run_path(run_id).replace(links.folder().run_path(run_id))
        drawn += [contents.draw_whole(links, run_id, Choices())[0] for _ in range(2)]
    starts = [round(float(figure["data"][0]["y"][0])) for figure in drawn]
    assert starts == [20, 20, 80, 80]


def keep_beside(links, run_id, value):
    """Store a series without lag beside the fat's readings, as the end of a run does."""
    path = DataFolder(links.data_dir).run_path(run_id)
    with RunView.open(path) as view:
        results = view.results()
    results.derived = [
        DerivedRow(channel="fat", kind=WITHOUT_LAG, readings=len(value), block=packed(value))
    ]
    with RunWriter.reopen(path) as file:
        file.set_results(results)


def test_a_trace_without_lag_is_a_line_that_a_tick_shows(links):
    run_id = "20261125-0913-a3f2"
    with links.open_run(run_id) as view:
        kept = view.readings("fat").value + 0.5
    keep_beside(links, run_id, kept)
    figure, _ = contents.draw_whole(links, run_id, Choices())
    go.Figure(figure)
    shown = {trace["name"]: trace for trace in figure["data"]}
    line = shown["Fat, lag removed"]
    assert line["visible"] is False
    assert legend.draw(figure)[1] == ["0", "1"]
    assert line["yaxis"] == shown["Fat"]["yaxis"]
    assert len(line["y"]) == len(shown["Fat"]["y"])
    assert np.nanmax(line["y"] - shown["Fat"]["y"]) == pytest.approx(0.5, abs=1e-4)
    place = list(shown).index("Fat, lag removed")
    closer = contents.draw_window(links, run_id, (10.0, 20.0), Choices()).lines[place]
    assert 0 < len(unpacked(closer["y"])) < 0.2 * len(line["y"])


def unpacked(packed: dict[str, str]) -> np.ndarray:
    return np.frombuffer(base64.b64decode(packed["bdata"]), dtype=f"<{packed['dtype']}")


def test_each_line_is_named_beside_a_piece_of_it(links):
    figure, _ = contents.draw_whole(links, "20261125-0913-a3f2", Choices())
    figure["data"][0]["name"] = "Fat &amp; &lt;b&gt;"
    boxes, ticked = legend.draw(figure)
    assert [box.label for box in boxes] == ["Fat & <b>", "Bath scale"]
    assert ticked == [box.value for box in boxes]
    pieces = [unquote(box.style["--piece"]) for box in boxes]
    for piece, line in zip(pieces, figure["data"], strict=True):
        assert f'stroke="{line["line"]["color"]}"' in piece


def test_zooming_reads_only_the_window(links):
    answer = contents.draw_window(links, "20261125-0913-a3f2", (10.0, 20.0), Choices(temp="F"))
    whole = contents.draw_window(links, "20261125-0913-a3f2", (None, None), Choices())
    x, y = (unpacked(answer.lines[0][axis]) for axis in ("x", "y"))
    assert canvas.run_time_s(float(min(x))) > 8.0
    assert canvas.run_time_s(float(max(x))) < 22.0
    assert y[0] == pytest.approx(1.8 * (20.0 + 0.001 * 4 * canvas.run_time_s(x[0])) + 32.0, abs=0.1)
    assert unpacked(whole.lines[0]["x"]).size == 480
    assert json.loads(json.dumps(asdict(answer))) == asdict(answer)
    assert [note["text"] for note in answer.notes] == ["Warm both", "°F", "Bath scale (g)"]


@pytest.mark.parametrize(
    ("ends", "span"),
    [
        ({}, (None, None)),
        ({"temp": "F"}, (None, None)),
        ({"from": "1970-01-11 00:01:00", "to": "1970-01-11 00:02:30.5"}, (60.0, 150.5)),
        ({"from": "864060000", "to": "864150500"}, (60.0, 150.5)),
    ],
)
def test_a_window_is_told_by_its_ends(ends, span):
    assert contents.span_of(ends) == span


@pytest.mark.parametrize(
    "ends",
    [
        {"from": "864060000"},
        {"from": "nonsense", "to": "1970"},
        {"from": "864150500", "to": "864060000"},
        {"from": "nan", "to": "nan"},
        {"from": "-inf", "to": "inf"},
    ],
)
def test_a_window_that_is_none_is_refused(links, ends):
    with pytest.raises(InputError, match="window"):
        contents.span_of(ends)
    browser = build_app(links.data_dir, links=links).server.test_client()
    answer = browser.get("/runs/20261125-0913-a3f2/window", query_string=ends)
    assert answer.status_code == 404
    assert "window" in answer.text


def test_a_window_of_a_run_that_is_not_there_says_so(links):
    browser = build_app(links.data_dir, links=links).server.test_client()
    assert browser.get("/runs/20261125-0913-ffff/window").status_code == 404
    assert browser.get("/runs/nonsense/window").status_code == 404
    assert browser.get("/runs/20261125-0913-a3f2/window").json["says"] == contents.EXACT_SAYS

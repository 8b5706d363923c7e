"""The list of runs and the page of one run, on real run files."""

import base64
import datetime
import json
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import numpy as np
import plotly.graph_objects as go
import pytest

from dashboard.app import build_app
from dashboard.links import Links
from dashboard.live import canvas
from dashboard.measures import Measures
from dashboard.runs import contents, legend, listing, one, outcome, tables
from dashboard.runs.card import small_picture
from dashboard.runs.window import BINS, BUDGET, EXACT, room_for, window
from dashboard.shell import Place, page_for
from logger.control.client import GoneError
from logger.model.bench import Bench, bench_of_roles
from logger.model.errors import InputError
from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.model.finding import Finding, Results
from logger.store.beside import WITHOUT_LAG, packed
from logger.store.datafolder import DataFolder
from logger.store.records import ChannelRecord, RunHeader, StoredReading, WriteBatch
from logger.store.runfile import RunView, RunWriter

SHEET = """
[sheet]
name = "Smoked beet and barley roll"
revision = 4
[[ingredient]]
name = "cocoa butter"
phase = "fat"
fat = "cocoa_butter"
mass = "180 g"
lot = "CB-0412"
[[stage]]
id = "warm"
kind = "heat"
title = "Warm both"
fat = { low = "44 degC", high = "58 degC" }
"""
START_NS = int(datetime.datetime(2026, 11, 25, 9, 13, tzinfo=datetime.UTC).timestamp()) * 10**9


def write_run(
    folder: Path, run_id: str, seconds: int = 120, *, hz: int = 4, slope: float = 1.0
) -> None:
    """Write an ended run: fat warming or cooling with one spike, bath scale with a gap."""
    bench: Bench = bench_of_roles(["fat", "bath_scale"])
    header = RunHeader(
        run_id=run_id,
        sheet_json=sheet_from_text(SHEET, "test").model_dump_json(by_alias=True),
        sheet_text=SHEET,
        bench_json=bench.model_dump_json(by_alias=True),
        bench_text="",
        started_utc_ns=START_NS,
        channels=(
            ChannelRecord("fat", "import", "fat", "fat", "degC"),
            ChannelRecord("bath_scale", "import", "bath_scale", "bath_scale", "g"),
        ),
    )
    t_ns = np.arange(0, seconds * 10**9, 10**9 // hz)
    fat = 50.0 + slope * (0.001 * np.arange(t_ns.size) - 30.0)
    fat[t_ns.size // 3] = 99.0
    (folder / "runs").mkdir(parents=True, exist_ok=True)
    with RunWriter.create(folder / "runs" / f"{run_id}.run", header) as file:
        readings = [
            StoredReading("fat", t, round(v, 3))
            for t, v in zip(t_ns.tolist(), fat.tolist(), strict=True)
        ]
        readings += [
            StoredReading("bath_scale", t, 400.0)
            for t in t_ns.tolist()
            if not 30 * 10**9 < t < 60 * 10**9
        ]
        events = [Event(t_ns=5 * 10**9, kind="note", source="operator", text="<b>hot</b>")]
        file.write(WriteBatch(readings=readings, events=events))
        results = Results(
            stages=[{"id": "warm", "kind": "heat", "start_s": 0.0, "end_s": float(seconds)}],
            findings=[
                Finding(check="fat temperature", stage="warm", verdict="not met", value=20.1,
                        unit="degC", expanded_uncertainty=0.6, low=44.0, high=58.0,
                        evidence="never above 20.2 °C"),
                Finding(check="water temperature", stage="warm", verdict="not measured"),
            ],
            immersions=[{"piece": 1, "in_s": 40.0, "out_s": 100.0, "dwell_s": 60.0,
                         "set_fraction": 0.97, "verdict": "met", "candidates": []}],
        )  # fmt: skip
        file.finish(results, START_NS + seconds * 10**9)


@pytest.fixture
def links(tmp_path, fake_client) -> Links:
    write_run(tmp_path, "20261125-0913-a3f2")
    return Links(tmp_path, fake_client)


def all_text(part: Any) -> str:
    if part is None or isinstance(part, bool):
        return ""
    if isinstance(part, str | int | float):
        return str(part)
    if isinstance(part, list | tuple):
        return " ".join(filter(None, (all_text(p) for p in part)))
    return all_text(getattr(part, "children", None))


def listed(links: Links, text: str = "", days: tuple = (None, None), **asked: Any) -> list[Any]:
    return listing.list_runs(links, text, asked, days, "dark")[0]


def test_a_run_is_listed_with_sheet_length_and_outcome(links):
    text = all_text(listed(links))
    assert "Smoked beet and barley roll" in text
    assert "Revision 4" in text
    assert "not said yet" in text


@pytest.mark.parametrize(
    ("asked", "count"),
    [
        ({"fat": "cocoa_butter"}, 1),
        ({"fat": "tallow"}, 0),
        ({"lot": "CB-0412"}, 1),
        ({"revision": "4"}, 1),
        ({"revision": "3"}, 0),
        ({"outcome": "rejected"}, 0),
    ],
)
def test_filters_narrow_the_list(links, asked, count):
    assert len(listed(links, **asked)) == count


def test_search_and_days_narrow_the_list(links):
    assert len(listed(links, "cb-0412 beet")) == 1
    assert len(listed(links, "tallow")) == 0
    assert len(listed(links, days=("2026-11-24", "2026-11-26"))) == 1
    assert len(listed(links, days=("2026-11-27", None))) == 0


def test_no_run_at_all_says_what_to_do(tmp_path, fake_client):
    answer = listing.list_runs(Links(tmp_path, fake_client), "", {}, (None, None), "dark")
    assert "bainlog demo" in answer[1]


def test_the_small_picture_is_an_image_without_scripts():
    address = small_picture({"fat": [[0.0, 20.0], [60.0, None], [120.0, 40.0]]}, "dark")
    drawn = unquote(address)
    assert drawn.startswith("data:image/svg+xml,<svg")
    assert drawn.count("M") == 2
    assert "script" not in drawn


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
    made, said = contents.draw_whole(links, "20261125-0913-a3f2", {})
    words, _ = contents.draw_words(links, "20261125-0913-a3f2", Measures())
    figure = go.Figure(made)
    assert [trace.meta for trace in figure.data] == ["fat", "bath_scale"]
    assert figure.data[1].yaxis == "y2"
    assert said == contents.EXACT_SAYS
    assert "Fat: from 20.0" in all_text(words)


def keep_beside(links, run_id, value):
    """Store a series without lag beside the fat's readings, as the end of a run does."""
    path = DataFolder(links.data_dir).run_path(run_id)
    with RunView.open(path) as view:
        results = view.results()
    results.derived = [
        {"channel": "fat", "kind": WITHOUT_LAG, "readings": len(value), "block": packed(value)}
    ]
    with RunWriter.reopen(path) as file:
        file.set_results(results)


def test_a_trace_without_lag_is_a_line_that_a_tick_shows(links):
    run_id = "20261125-0913-a3f2"
    with links.open_run(run_id) as view:
        kept = view.readings("fat").value + 0.5
    keep_beside(links, run_id, kept)
    figure, _ = contents.draw_whole(links, run_id, {})
    go.Figure(figure)
    shown = {trace["name"]: trace for trace in figure["data"]}
    line = shown["Fat, lag taken off"]
    assert line["visible"] is False
    assert legend.draw(figure)[1] == ["0", "1"]
    assert line["yaxis"] == shown["Fat"]["yaxis"]
    assert len(line["y"]) == len(shown["Fat"]["y"])
    assert np.nanmax(line["y"] - shown["Fat"]["y"]) == pytest.approx(0.5, abs=1e-4)
    place = list(shown).index("Fat, lag taken off")
    closer = contents.draw_window(links, run_id, (10.0, 20.0), {})["lines"][place]
    assert 0 < len(unpacked(closer["y"])) < 0.2 * len(line["y"])


def unpacked(packed: dict[str, str]) -> np.ndarray:
    return np.frombuffer(base64.b64decode(packed["bdata"]), dtype=f"<{packed['dtype']}")


def test_each_line_is_named_beside_a_piece_of_it(links):
    figure, _ = contents.draw_whole(links, "20261125-0913-a3f2", {})
    figure["data"][0]["name"] = "Fat &amp; &lt;b&gt;"
    boxes, ticked = legend.draw(figure)
    assert [box.label for box in boxes] == ["Fat & <b>", "Bath scale"]
    assert ticked == [box.value for box in boxes]
    pieces = [unquote(box.style["--piece"]) for box in boxes]
    for piece, line in zip(pieces, figure["data"], strict=True):
        assert f'stroke="{line["line"]["color"]}"' in piece


def test_findings_dwells_and_notes_stand_in_tables(links):
    text = all_text(contents.draw_words(links, "20261125-0913-a3f2", Measures())[1])
    assert "Warm both" in text
    assert "not met" in text
    assert "20.1 ± 0.6 °C" in text
    assert "44 to 58 °C" in text
    assert "not measured" in text
    assert "97 %" in text
    assert "<b>hot</b>" in text


def test_thousands_of_gaps_do_not_make_thousands_of_rows():
    gaps = [
        {"channel": "fat", "from_s": float(k), "to_s": k + 0.5 + 0.001 * k, "why": "no readings"}
        for k in range(3000)
    ]
    text = all_text(tables.draw_gaps(gaps))
    assert text.count("no readings") == tables.MOST_GAPS
    assert "3.5 s" in text
    assert "2985 shorter gaps" in text


def test_zooming_reads_only_the_window(links):
    answer = contents.draw_window(links, "20261125-0913-a3f2", (10.0, 20.0), {"temp": "F"})
    whole = contents.draw_window(links, "20261125-0913-a3f2", (None, None), {})
    x, y = (unpacked(answer["lines"][0][axis]) for axis in ("x", "y"))
    assert canvas.run_time_s(float(min(x))) > 8.0
    assert canvas.run_time_s(float(max(x))) < 22.0
    assert y[0] == pytest.approx(1.8 * (20.0 + 0.001 * 4 * canvas.run_time_s(x[0])) + 32.0, abs=0.1)
    assert unpacked(whole["lines"][0]["x"]).size == 480
    assert json.loads(json.dumps(answer)) == answer
    assert [note["text"] for note in answer["notes"]] == ["Warm both", "°F", "Bath scale (g)"]


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


@pytest.mark.parametrize(
    "run_id", ["20261125-0913-ffff", "nonsense", "..", "20261125-0913-a3f2.run"]
)
def test_a_run_that_is_not_there_says_so(links, run_id):
    assert "can't be opened" in all_text(one.layout_for(links)(run_id))


@pytest.mark.parametrize(
    "path", ["/runs/../../etc/passwd", "/runs/%2e%2e", "/etc/passwd", "/runs/a/b"]
)
def test_a_path_that_is_no_page_is_not_looked_up(links, path):
    places = [Place("/runs/(?P<run_id>[0-9a-z-]+)", "", one.layout_for(links))]
    assert "no such page" in all_text(page_for(places, path))


def test_the_page_of_a_run_has_the_sheets_defects(links):
    page = one.layout_for(links)("20261125-0913-a3f2")
    assert "broken emulsion" in str(page)


def test_an_outcome_is_sent_to_the_recorder(links, fake_client):
    assert outcome.save_outcome(links, "r", "rejected", ["greasy"], "too warm") == "Saved."
    assert fake_client.sent == [
        ("outcome", {"run": "r", "outcome": "rejected", "defects": ["greasy"], "text": "too warm"})
    ]


def test_an_outcome_without_a_recorder_names_the_command(links, fake_client):
    fake_client.now = None
    with pytest.raises(GoneError):
        fake_client.send("ping")
    assert "bainlog outcome r accepted" in outcome.save_outcome(links, "r", "accepted", [], "")


def test_an_empty_note_is_not_sent(links, fake_client):
    assert outcome.save_note(links, "r", "  ") == "The note is empty."
    assert fake_client.sent == []


def test_opening_a_run_by_address_works_through_the_app(links, tmp_path, fake_client):
    app = build_app(tmp_path, links=Links(tmp_path, fake_client))
    client = app.server.test_client()
    asked = {
        "output": "page.children",
        "outputs": {"id": "page", "property": "children"},
        "inputs": [{"id": "where", "property": "pathname", "value": "/runs/20261125-0913-a3f2"}],
        "changedPropIds": ["where.pathname"],
    }
    answer = client.post("/_dash-update-component", json=asked, headers={"Host": "127.0.0.1"})
    assert answer.status_code == 200
    assert "Smoked beet and barley roll, revision 4" in answer.get_data(as_text=True)

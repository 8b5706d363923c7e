"""Why a run came out so, and runs beside each other, drawn from real run files."""

import csv
import io
import re

import numpy as np
import plotly.graph_objects as go
import pytest

from dashboard.app import build_app
from dashboard.learn import comparing, groups, shown
from dashboard.learn.goodband import GoodBands
from dashboard.learn.portraits import Portraits
from dashboard.learn.together import PATH
from dashboard.links import Links
from dashboard.live.drawing import canvas
from dashboard.palette import GROUNDS
from dashboard.runs import listing
from dashboard.stores import Choices
from logger.review.compare.compare import anchor_s, compare
from tests.dashboard.pages import text_of


@pytest.fixture
def links(shelf, fake_client) -> Links:
    return Links(shelf.folder, fake_client)


def test_evidence_is_marked_at_its_time_in_the_lane_of_its_channel(links, shelf):
    found = Portraits(links).why(shelf.bad)
    places = [shown.places_of(cause) for cause in found.causes]
    assert any(places)
    made, words = shown.evidence_figure(links, shelf.bad, places, Choices())
    go.Figure(made)
    accent = GROUNDS["dark"].accent
    boxes = [s for s in made["layout"]["shapes"] if s["type"] == "rect"]
    boxes = [box for box in boxes if box["line"].get("color") == accent]
    wanted = [place for cause in places for place in cause]
    assert [b["x0"] for b in boxes] == [canvas.x_of(place.from_s) for place in wanted]
    assert all(box["yref"].endswith("domain") or box["yref"] == "paper" for box in boxes)
    assert "<b>1</b>" not in str(made["layout"]["annotations"])
    made, _ = shown.evidence_figure(links, shelf.bad, [places[0]] * 2, Choices())
    numbers = [a["text"] for a in made["layout"]["annotations"] if a["text"].startswith("<b>")]
    assert numbers.count("<b>1</b>") == numbers.count("<b>2</b>") == len(places[0])
    assert "Fat: from" in str(words)


def test_the_good_runs_are_a_band_at_the_pour_behind_the_trace_of_the_evidence(links, shelf):
    portraits = Portraits(links)
    run, found = portraits.of(shelf.bad), portraits.why(shelf.bad)
    places = shown.places_of(found.causes[0])
    pour_s = anchor_s(run, "pour")
    lined_up = shown.LinedUp(good=found.compared_with, events_s={"pour": pour_s})
    made, _ = shown.evidence_figure(
        links, shelf.bad, [places], Choices(), bands=GoodBands(links, portraits), lined_up=lined_up
    )
    go.Figure(made)
    bands = {line["meta"]: line for line in made["data"] if "fill" in line}
    assert "good:water" in bands
    assert "4 good batches" in bands["good:water"]["name"]
    low, high = made["layout"]["xaxis"]["range"]
    assert low < canvas.x_of(places[0].from_s) < high
    good = portraits.of(shelf.good[0])
    assert anchor_s(good, "pour") != pour_s
    line = bands["good:water"]
    at_pour = np.abs(line["x"] - canvas.x_of(pour_s - 10.0)) < 1500.0
    assert good.features["water_at_pour_c"].value == pytest.approx(
        line["y"][at_pour].min(), abs=1.5
    )


def test_a_scale_without_evidence_is_left_out_and_its_lane_has_no_noise(links, shelf):
    made, _ = shown.evidence_figure(links, shelf.bad, [], Choices())
    assert "bench_scale" not in {trace["meta"] for trace in made["data"]}
    place = shown.Place(channel="bench_scale", from_s=10.0, to_s=20.0)
    made, _ = shown.evidence_figure(links, shelf.bad, [[place]], Choices())
    assert made["data"][-1]["meta"] == "bench_scale"
    low, high = made["layout"]["yaxis2"]["autorangeoptions"]["include"]
    assert high - low >= 20.0


@pytest.fixture
def compared(links):
    portraits = Portraits(links)
    bands = GoodBands(links, portraits)

    def answer(*ids, **asked):
        return comparing.draw(links, portraits, bands, comparing.Asked(ids=ids, **asked), Choices())

    return answer


def test_runs_lie_over_each_other_at_the_chosen_event(compared, shelf):
    told = compared(*shelf.good[:2], shelf.bad, anchor="pour", role="emulsion")
    made = told.figure
    go.Figure(made)
    lines = [t for t in made["data"] if "fill" not in t]
    assert [t["name"][:2] for t in lines] == ["A:", "B:", "C:"]
    assert all(t["x"].min() < 0.0 < t["x"].max() for t in lines)
    assert made["layout"]["xaxis"]["title"]["text"] == "minutes from the start of the pour"
    assert told.says
    assert "C: 24 Nov 2026" in str(told.words)
    assert "Numbers of each run" in str(told.tables)


def test_two_runs_say_their_largest_difference_and_draw_its_trace_at_its_event(compared, shelf):
    told = compared(shelf.bad, shelf.good[0])
    assert re.fullmatch(r"Water .* differs most: 2\d\.\d °C in A, 4\d\.\d °C in B\.", told.head)
    title = told.figure["layout"]["yaxis"]["title"]["text"]
    assert title == "Water phase (°C)"
    assert told.figure["layout"]["xaxis"]["title"]["text"] == "minutes from the start of the pour"
    text = text_of(told.tables)
    assert "within the usual scatter" in text
    assert text.count("Too few batches to tell: 1 rejected, 1 accepted.") == 1
    same = compared(*shelf.good[:2])
    assert same.head == "No number differs by more than good batches do."


def test_the_good_runs_are_a_band_from_their_lowest_to_their_highest(compared, shelf):
    made = compared(shelf.bad, anchor="start", role="fat").figure
    band = next(t for t in made["data"] if t.get("fill") == "toself")
    half = len(band["x"]) // 2
    width = band["y"][half:][::-1] - band["y"][:half]
    assert "4 good batches" in band["name"]
    assert np.median(width) == pytest.approx(0.6, abs=0.05)  # made 0.2 K warmer, three times


def test_two_of_many_chosen_runs_are_compared_where_two_are_asked_for(compared, shelf):
    told = compared(shelf.bad, *shelf.good, way=comparing.TWO)
    assert told.compared == (shelf.bad, shelf.good[0])
    assert "The first 2 of 5 chosen runs are compared." in told.says
    assert len(compared(shelf.bad, *shelf.good, way=comparing.MANY).compared) == 5


def test_many_runs_are_split_as_asked_and_a_split_that_is_none_says_so(compared, shelf):
    ids = (shelf.bad, *shelf.good)
    told = compared(*ids, by=groups.OUTCOME)
    assert told.by == groups.OUTCOME
    few = "Too few batches to tell: 1 rejected, 4 accepted."
    assert told.head == few
    assert few not in text_of(told.tables)
    assert "1 run: rejected" in text_of(told.which)
    assert "4 runs: accepted" in text_of(told.which)
    assert f"data-keeps='{' '.join(shelf.good)}'" in str(told.which)
    days = compared(*ids, by=groups.DAY)
    assert (days.by, days.days) == (groups.DAY, (days.day,))
    assert "1 run: before" in text_of(days.which)
    assert re.fullmatch(
        r"Too few batches to tell: 4 from \d+ Nov 2026 on, 1 before \d+ Nov 2026\.", days.head
    )
    one_day = compared(*shelf.good, by=groups.DAY)
    assert one_day.days == ()
    assert "All chosen runs began on one day." in text_of(one_day.tables)
    alike = compared(*ids, by=groups.LOT)
    assert "Change groups" in text_of(alike.which)
    assert "No ingredient of the chosen runs has another lot." in text_of(alike.tables)


def test_the_table_of_the_numbers_goes_out_with_the_digits_that_they_have(shelf):
    links = Links(shelf.folder)
    portraits = Portraits(links)
    app = build_app(shelf.folder, links=links)
    asked = f"{PATH}?runs={shelf.bad},{shelf.good[1]}"
    answer = app.server.test_client().get(asked, headers={"Host": "127.0.0.1"})
    assert "compared-runs.csv" in answer.headers["Content-Disposition"]
    heads, *rows = csv.reader(io.StringIO(answer.get_data(as_text=True)))
    assert heads[:3] == ["number", "unit", shelf.bad]
    bad, good = (portraits.readable(run_id) for run_id in (shelf.bad, shelf.good[1]))
    cells = {row[0]: row[1:] for row in rows}
    for row in compare([bad, good]).rows:
        said = cells[row.label]
        assert said[0] == row.unit
        values = [None if text == "" else float(text) for text in (said[1], said[3])]
        assert values == pytest.approx(list(row.values), rel=1e-11)
        assert max(map(len, said[1:])) < 18
    one = app.server.test_client().get(f"{PATH}?runs={shelf.bad}", headers={"Host": "127.0.0.1"})
    assert one.status_code == 404


def test_without_a_run_the_page_asks_for_two(compared):
    told = compared()
    assert "Choose two or more finished runs" in told.says
    assert told.figure["layout"]["annotations"][0]["text"] == "No trace to draw yet."
    assert told.words == told.tables == []


@pytest.mark.parametrize(
    ("count", "says"),
    [
        (0, "pick runs below"),
        (1, "Compare 1 picked run"),
        (3, "Compare 3 picked"),
        (50, "first 40 of 50"),
    ],
)
def test_the_way_to_the_page_that_compares_says_how_many_are_picked(count, says):
    assert says in listing.go_words([str(k) for k in range(count)])


def test_the_list_of_the_shelf_has_a_filter_for_each_word(links, shelf):
    asked = listing.Asked(filters={"defect": "broken emulsion"})
    found = listing.list_runs(links, asked, "dark")
    assert found.count == 1
    assert found.says == "1 of 5 runs"
    offered = dict(zip(listing.FILTERS, found.options, strict=True))
    assert [one["value"] for one in offered["outcome"]] == ["accepted", "rejected"]
    assert offered["fat"] == [{"value": "cocoa_butter", "label": "cocoa butter"}]

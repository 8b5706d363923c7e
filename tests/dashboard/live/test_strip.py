"""What an open page is sent to bring its traces up to date."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import plotly.graph_objects as go
import pytest

from dashboard.live.drawing import canvas, strip
from dashboard.live.drawing.furniture import gaps
from dashboard.live.drawing.strip import Cursor
from dashboard.live.drawing.view import Ask, view_of, wanted
from dashboard.live.feed import FINE_S, Feed, Growing, Kept
from dashboard.palette import GROUNDS
from dashboard.points import Points, breaks, few, thinned
from dashboard.stores import Choices
from logger.model.event import Event
from logger.model.rows import StageRow
from logger.model.state import RunAbout

ASK = Ask(n=1, window="20 min")
NEW = Cursor()


@pytest.fixture
def feed(fake_run) -> Feed:
    return Feed(lambda run_id: fake_run)


def by_meta(figure: dict, meta: str) -> dict:
    return next(trace for trace in figure["data"] if trace["meta"] == meta)


def test_a_page_without_a_cursor_gets_a_whole_figure_that_plotly_takes(heat_state, feed):
    step = strip.step(heat_state, feed, ASK, NEW, Choices())
    figure = go.Figure(step.figure)
    assert step.extend is None
    assert len(figure.data) == len(step.figure["data"])
    assert len(by_meta(step.figure, "history:fat")["x"]) > 100


def test_the_next_step_only_appends_what_is_new(heat_state, feed, fake_run):
    first = strip.step(heat_state, feed, ASK, NEW, Choices())
    fake_run.until_s = heat_state.t_s = 101.0
    second = strip.step(heat_state, feed, ASK, first.cursor, Choices())
    assert second.figure is None
    update, numbers, limit = second.extend
    assert len(update["x"]) == len(update["y"]) == len(numbers) == len(limit["x"])
    assert update["x"][0] == [canvas.x_of(t) for t in (100.25, 100.5, 100.75, 101.0)]
    assert first.figure["data"][numbers[0]]["meta"] == "tail:fat"


def test_nothing_new_sends_nothing(heat_state, feed):
    first = strip.step(heat_state, feed, ASK, NEW, Choices())
    again = strip.step(heat_state, feed, ASK, first.cursor, Choices())
    assert again.figure is None
    assert again.extend is None


def test_a_lost_answer_is_made_up_by_the_next(heat_state, feed, fake_run):
    """The page asks again with its old cursor and gets both pieces."""
    first = strip.step(heat_state, feed, ASK, NEW, Choices())
    fake_run.until_s = heat_state.t_s = 100.5
    strip.step(heat_state, feed, ASK, first.cursor, Choices())
    fake_run.until_s = heat_state.t_s = 101.0
    made_up = strip.step(heat_state, feed, ASK, first.cursor, Choices())
    assert len(made_up.extend[0]["x"][0]) == 4


def test_a_new_server_goes_on_from_the_pages_cursor(heat_state, feed, fake_run):
    first = strip.step(heat_state, feed, ASK, NEW, Choices())
    fake_run.until_s = heat_state.t_s = 100.5
    later = strip.step(heat_state, Feed(lambda run_id: fake_run), ASK, first.cursor, Choices())
    assert later.figure is None
    assert len(later.extend[0]["x"][0]) == 2


def test_a_long_tail_becomes_history(heat_state, feed, fake_run):
    first = strip.step(heat_state, feed, ASK, NEW, Choices())
    fake_run.until_s = heat_state.t_s = 102.0
    long_ago = replace(first.cursor, tail=strip.TAIL_POINTS + 1)
    step = strip.step(heat_state, feed, ASK, long_ago, Choices())
    assert step.figure is not None
    assert step.cursor.tail == 0


def test_the_window_moves_on_in_steps(heat_state, feed, fake_run):
    fake_run.until_s = heat_state.t_s = 1100.0
    first = strip.step(heat_state, feed, ASK, NEW, Choices())
    assert first.cursor.turn[1] - first.cursor.turn[0] == 1200.0
    heat_state.t_s = 1101.0
    assert strip.step(heat_state, feed, ASK, first.cursor, Choices()).cursor.turn == (
        first.cursor.turn
    )
    fake_run.until_s = heat_state.t_s = first.cursor.turn[1] - 10.0
    moved = strip.step(heat_state, feed, ASK, first.cursor, Choices())
    assert moved.cursor.turn[0] > first.cursor.turn[0]


def test_a_person_who_looks_back_keeps_the_window(heat_state, feed, fake_run):
    first = strip.step(heat_state, feed, ASK, NEW, Choices())
    fake_run.until_s = heat_state.t_s = 5000.0
    looking = strip.step(heat_state, feed, replace(ASK, looking=True), first.cursor, Choices())
    assert looking.cursor.turn == first.cursor.turn
    assert looking.cursor.ui == first.cursor.ui
    back = strip.step(heat_state, feed, replace(ASK, ui=1), looking.cursor, Choices())
    assert back.cursor.turn[1] > 5000.0


def test_a_gap_stays_a_gap(heat_state, feed, fake_run):
    fake_run.missing = (30.0, 60.0)
    step = strip.step(heat_state, feed, ASK, NEW, Choices())
    trace = by_meta(step.figure, "history:fat")
    assert trace["y"].count(None) == 1
    assert trace["connectgaps"] is False


def test_a_gap_between_two_steps_stays_a_gap(heat_state, feed, fake_run):
    first = strip.step(heat_state, feed, ASK, NEW, Choices())
    fake_run.missing = (100.0, 110.0)
    fake_run.until_s = heat_state.t_s = 110.5
    step = strip.step(heat_state, feed, ASK, first.cursor, Choices())
    assert step.extend is None
    assert step.figure is not None  # the line breaks, and its mark stands at the axis


def test_the_band_of_the_stage_is_drawn_from_its_start(heat_state, feed):
    step = strip.step(heat_state, feed, ASK, NEW, Choices())
    boxes = [s for s in step.figure["layout"]["shapes"] if s["type"] == "rect"]
    assert [(b["y0"], b["y1"]) for b in boxes] == [(44.0, 58.0), (42.0, 56.0)]
    assert {b["x0"] for b in boxes} == {canvas.x_of(40.0)}


def test_the_forecast_is_a_cone_to_the_right_of_now(heat_state, feed):
    step = strip.step(heat_state, feed, ASK, NEW, Choices())
    cone = by_meta(step.figure, "cone:fat")
    assert cone["fill"] == "toself"
    assert cone["x"][:2] == [canvas.x_of(100.0), canvas.x_of(400.0)]
    assert cone["y"] == [46.0, 37.0, 41.0, 46.2]


def test_only_channels_with_a_target_have_room_for_a_forecast(heat_state, feed, fake_run):
    """Another stage, with other targets, brings a whole figure; the window stays where it was."""
    first = strip.step(heat_state, feed, ASK, NEW, Choices())
    metas = [trace["meta"] for trace in first.figure["data"]]
    assert [m for m in metas if m.startswith("cone:")] == ["cone:fat", "cone:water"]
    heat_state.view.forecasts = []
    for channel in heat_state.channels:
        channel.low = channel.high = None
    fake_run.until_s = heat_state.t_s = 101.0
    second = strip.step(heat_state, feed, ASK, first.cursor, Choices())
    assert not [t for t in second.figure["data"] if t["meta"].startswith("cone:")]
    assert second.cursor.turn == first.cursor.turn
    fake_run.until_s = heat_state.t_s = 102.0
    assert strip.step(heat_state, feed, ASK, second.cursor, Choices()).extend is not None


def test_fahrenheit_moves_traces_bands_and_cone_together(heat_state, feed):
    step = strip.step(heat_state, feed, ASK, NEW, Choices(temp="F"))
    box = next(s for s in step.figure["layout"]["shapes"] if s["type"] == "rect")
    assert box["y0"] == pytest.approx(111.2)
    assert by_meta(step.figure, "history:fat")["y"][0] == pytest.approx(68.0)
    assert by_meta(step.figure, "cone:fat")["y"][0] == pytest.approx(114.8)


def test_another_choice_of_units_gets_a_whole_new_figure(heat_state, feed):
    first = strip.step(heat_state, feed, ASK, NEW, Choices())
    other = strip.step(heat_state, feed, ASK, first.cursor, Choices(temp="F"))
    assert other.figure is not None


def test_a_mark_stands_on_the_line_as_text_not_markup(heat_state, feed, fake_run):
    fake_run.happened = [
        Event(t_ns=50_000_000_000, kind="mark", source="operator", channel="fat",
              text="<b>here</b>", seq=3)
    ]  # fmt: skip
    events = by_meta(strip.step(heat_state, feed, ASK, NEW, Choices()).figure, "events")
    assert events["text"] == ["&lt;b&gt;here&lt;/b&gt;"]
    assert 20.0 < events["y"][0] < 46.0


def alarm(t_s: float, state: str, was: str, seq: int) -> Event:
    return Event(
        t_ns=round(t_s * 1e9), kind="alarm", source="engine", channel="fat", seq=seq,
        text="Fat fell below 44 °C.", data={"alarm": "fat.low", "state": state, "was": was},
    )  # fmt: skip


def test_an_alarm_stands_on_its_line_where_it_came_and_where_it_went(heat_state, feed, fake_run):
    fake_run.happened = [
        alarm(40.0, "active unacknowledged", "normal", 1),
        alarm(45.0, "active acknowledged", "active unacknowledged", 2),
        alarm(60.0, "normal", "active acknowledged", 3),
    ]
    events = by_meta(strip.step(heat_state, feed, ASK, NEW, Choices()).figure, "events")
    assert events["x"] == [canvas.x_of(40.0), canvas.x_of(60.0)]
    assert events["marker"]["symbol"] == ["octagon", "octagon-open"]
    assert events["text"][0].startswith("Alarm: Fat fell")
    assert set(events["marker"]["color"]) == {GROUNDS["dark"].stop}
    assert events["y"][0] > 20.0


def test_a_time_without_readings_has_one_grey_mark_and_no_red_one(heat_state, feed, fake_run):
    fake_run.missing = (30.0, 60.0)  # all channels at once
    silent = alarm(35.0, "active unacknowledged", "normal", 1)
    fake_run.happened = [replace(silent, data=silent.data | {"alarm": "fat.stale"})]
    figure = strip.step(heat_state, feed, ASK, NEW, Choices()).figure
    assert by_meta(figure, "events")["x"] == []
    from_x, to_x, end = by_meta(figure, "gaps")["x"]
    assert from_x == pytest.approx(canvas.x_of(30.0), abs=1000)
    assert to_x == pytest.approx(canvas.x_of(60.0), abs=1000)
    assert end is None


def test_two_hundred_dropouts_are_at_most_a_mark_for_each_pixel(heat_state):
    t_ns = np.concatenate([np.arange(6.0 * k, 6.0 * k + 3.0, 0.25) for k in range(200)]) * 1e9
    fat = Kept(t_ns=t_ns.astype(np.int64), value=np.full(t_ns.size, 46.0))
    for width_px, count in ((1200.0, 200), (100.0, 1)):
        view = view_of(heat_state, Choices(), replace(ASK, width=width_px))
        kept = {c.id: fat if c.id == "fat" else Growing().kept for c in view.channels}
        assert gaps(kept, view, [0.0, 1200.0], 1200.0).count(None) == count


def test_an_alarm_about_missing_values_stands_where_the_line_ends(heat_state, feed, fake_run):
    fake_run.missing = (30.0, 200.0)
    fake_run.happened = [alarm(90.0, "active unacknowledged", "normal", 1)]
    figure = strip.step(heat_state, feed, ASK, NEW, Choices()).figure
    last = [y for y in by_meta(figure, "history:fat")["y"] if y is not None][-1]
    assert by_meta(figure, "events")["y"] == [pytest.approx(last, abs=0.01)]


def test_a_new_alarm_is_drawn_at_once(heat_state, feed, fake_run):
    first = strip.step(heat_state, feed, ASK, NEW, Choices())
    fake_run.happened = [alarm(90.0, "active unacknowledged", "normal", 1)]
    fake_run.until_s = heat_state.t_s = 101.0
    assert strip.step(heat_state, feed, ASK, first.cursor, Choices()).figure is not None


def test_before_any_recorder_answered_the_strip_says_what_will_stand_there():
    step = strip.nothing(ASK, NEW, Choices())
    assert "begin with the batch" in step.figure["layout"]["annotations"][0]["text"]
    assert strip.nothing(ASK, step.cursor, Choices()).figure is None


def test_names_of_targets_keep_off_the_names_of_the_lines(heat_state, feed, fake_run):
    def sides(t_s: float) -> set[str]:
        fake_run.until_s = heat_state.t_s = t_s
        made = strip.step(heat_state, feed, ASK, NEW, Choices()).figure["layout"]["annotations"]
        return {name["xanchor"] for name in made if "44 to 58" in name["text"]}

    assert sides(100.0) == {"right"}
    assert sides(2000.0) == {"left"}


def test_the_scale_of_the_stage_is_drawn(bath_state, feed, fake_run):
    fake_run.until_s = bath_state.t_s
    step = strip.step(bath_state, feed, ASK, NEW, Choices())
    metas = {trace["meta"] for trace in step.figure["data"]}
    assert "history:bath_scale" in metas
    assert "history:bowl_scale" not in metas


def test_while_nothing_is_recorded_the_strip_says_so(heat_state, feed):
    heat_state.phase, heat_state.run = "idle", RunAbout()
    step = strip.step(heat_state, feed, ASK, NEW, Choices())
    assert step.figure["data"] == []
    assert "begin with the batch" in step.figure["layout"]["annotations"][0]["text"]
    assert strip.step(heat_state, feed, ASK, step.cursor, Choices()).figure is None


def test_the_feed_lets_go_of_a_run_when_another_begins(fake_run):
    feed = Feed(lambda run_id: fake_run)
    feed.follow("20261125-0913-a3f2", ["fat"])
    feed.follow("20261125-1013-b3f2", ["fat"])
    assert fake_run.closed


def test_thinning_keeps_the_extremes():
    t_s = np.arange(0.0, 2500.0, 0.25)
    value = np.sin(t_s / 50.0)
    value[4321], value[7000] = 9.0, -9.0
    drawn = thinned(Points(t_s, value), 400)
    assert drawn.t_s.size <= 400
    assert np.nanmax(drawn.value) == 9.0
    assert np.nanmin(drawn.value) == -9.0


def test_thinning_never_joins_over_a_missing_value():
    t_s = np.arange(0.0, 1000.0)
    value = np.ones(1000)
    value[300:400] = np.nan
    drawn = thinned(Points(t_s, value), 100)
    inside = (drawn.t_s > 299.0) & (drawn.t_s < 400.0)
    assert np.isnan(drawn.value[inside]).all()
    assert inside.any()


def test_breaks_counts_missing_values_and_long_steps():
    points = Points(np.array([0.0, 1.0, 2.0, 12.0, 13.0]), np.array([1.0, np.nan, 1.0, 1.0, 1.0]))
    assert breaks(points).tolist() == [0, 1, 1, 2, 2]


@pytest.mark.parametrize("hz", [0.5, 2.0, 10.0, 100.0])
def test_what_is_old_is_kept_by_its_ends_and_what_is_new_by_every_sample(hz):
    """Four hours, with a spike, a pause and a stretch without values in the old part."""
    t_ns = (np.arange(0.0, 14_400.0, 1.0 / hz) * 1e9).astype(np.int64)
    t_s = t_ns / 1e9
    value = 40.0 + np.sin(t_s / 300.0)
    value[t_ns.size // 5] = 99.0
    value[(t_s >= 4000.0) & (t_s < 4100.0)] = np.nan
    there = (t_s < 6000.0) | (t_s > 6100.0)
    t_ns, t_s, value = t_ns[there], t_s[there], value[there]
    growing = Growing()
    for part in np.array_split(np.arange(t_ns.size), 500):
        growing.add(t_ns[part], value[part])
    kept = growing.kept
    held = kept.between(-1)
    new = held.t_s > 14_400.0 - FINE_S
    assert held.value[new].tolist() == value[t_s > 14_400.0 - FINE_S].tolist()
    assert held.t_s.size < max(2.2 * 14_400.0, 14_400.0 * hz) + 0.6 * FINE_S * hz + 12_000
    assert (np.diff(held.t_s) > 0.0).all()
    assert np.nanmax(held.value) == 99.0
    assert kept.at(1000.0) == pytest.approx(40.0 + np.sin(1000.0 / 300.0), abs=0.01)
    number = breaks(held)
    assert np.isnan(held.value[(held.t_s > 4000.0) & (held.t_s < 4099.0)]).all()
    steps = np.flatnonzero(np.diff(number[np.isfinite(held.value)]))
    assert len(steps) == 2  # where there are no values, and the pause


def test_few_keeps_lowest_highest_and_last():
    points = Points(np.arange(50.0), np.r_[np.arange(25.0), np.arange(25.0)[::-1]])
    kept = few(points)
    assert 24.0 in kept.value
    assert 0.0 in kept.value
    assert kept.t_s[-1] == 49.0
    assert (np.diff(kept.t_s) > 0).all()


def test_channels_with_a_target_have_the_room_others_may_leave_it(heat_state):
    """Fat and water are judged; a bath that lies far away must not flatten them."""
    view = view_of(heat_state, Choices(), ASK)
    assert [c.id for c in wanted(view, "y")] == ["fat", "water"]
    for channel in heat_state.channels:
        channel.low = channel.high = None
    view = view_of(heat_state, Choices(), ASK)
    assert [c.id for c in wanted(view, "y")] == ["fat", "water", "emulsion", "bath"]


def test_a_page_that_slept_gets_what_it_missed_finely_enough(heat_state, feed, fake_run):
    first = strip.step(heat_state, feed, ASK, NEW, Choices())
    fake_run.until_s = heat_state.t_s = 160.0
    step = strip.step(heat_state, feed, ASK, first.cursor, Choices())
    x = step.extend[0]["x"][0]
    assert max(later - earlier for earlier, later in pairwise(x)) <= 2000


def test_a_run_before_its_first_stage_is_drawn(heat_state, feed):
    for stage in heat_state.stages:
        stage.start_s = stage.end_s = None
    heat_state.stage = None
    assert strip.step(heat_state, feed, ASK, NEW, Choices()).figure["data"]


def test_a_stage_without_room_for_its_title_has_the_word_of_its_kind_or_none():
    stages = [
        StageRow(id="a", kind="heat", title="Melt the fat, warm the stock", start_s=0.0),
        StageRow(id="b", kind="emulsify", title="Stir", start_s=100.0),
        StageRow(id="c", kind="set", title="Set the skin", start_s=110.0),
    ]
    _, names = canvas.stage_lines(stages, [0.0, 1000.0], "dark", 105)
    assert [name["text"] for name in names] == ["Heat", "Set the skin"]

"""What was done is listed with what each button takes back; the ribbon moves starts and ends."""

import json

import pytest

from dashboard.links import Links
from dashboard.live.acts import draw_acts, ends_of
from dashboard.live.commands import Command, carry_out
from dashboard.live.controls import draw_controls
from dashboard.live.feed import Feed
from dashboard.live.rail import draw_rail
from dashboard.live.sentence import what_to_say
from logger.model.event import LAST_ACTS, Event
from logger.model.history import ActRow
from logger.model.rows import GoOnRow
from logger.model.state import State
from tests.dashboard.pages import text_of


def buttons(part):
    """Return all buttons of a drawn part, in reading order."""
    if isinstance(part, list | tuple):
        return [b for p in part for b in buttons(p)]
    if type(part).__name__ == "Button":
        return [part]
    return buttons(part.children) if getattr(part, "children", None) is not None else []


def marks(count):
    return [ActRow(event=n + 1, at_ns=n, kind="mark", t_s=float(n)) for n in range(count)]


@pytest.fixture
def acted(heat_state):
    heat_state.acts = [
        ActRow(event=2, at_ns=0, kind="next", t_s=0.0, begins="Weigh in", stage="weigh"),
        ActRow(event=5, at_ns=40, kind="next", t_s=40.0, begins="Warm both", ends="Weigh in",
               stage="warm"),
        ActRow(event=9, at_ns=60, kind="confirm_piece", t_s=60.0, piece=2),
    ]  # fmt: skip
    return heat_state


def test_the_last_act_comes_first_and_says_what_it_takes_back(acted):
    drawn = draw_acts(acted.acts)
    first = buttons(drawn)[0]
    assert text_of(first) == "Undo: confirmed piece 2, 1:00"
    assert json.loads(first.to_plotly_json()["props"]["data-about"]) == {"event": 9}


def test_what_has_no_time_of_its_own_is_not_moved(acted):
    moved = [text_of(b) for b in buttons(draw_acts(acted.acts[-1:]))]
    assert "Move" not in moved
    assert [text_of(b) for b in buttons(draw_acts(acted.acts[:1]))] == [
        "Undo: start of Weigh in, 0:00",
        "Move",
    ]


def test_earlier_acts_can_be_moved_and_not_taken_back():
    drawn = [text_of(b) for b in buttons(draw_acts(marks(LAST_ACTS + 3)))]
    assert drawn.count("Move") == LAST_ACTS + 3
    assert drawn.count("Take back") == LAST_ACTS - 1
    assert draw_acts([])[0].children.startswith("Nothing to take back")


def test_an_act_of_a_finished_run_names_its_run(acted):
    about = buttons(draw_acts(acted.acts, "20261125-0913-a3f2"))[0].to_plotly_json()["props"]
    assert json.loads(about["data-about"])["run"] == "20261125-0913-a3f2"


def test_a_ticket_moves_the_start_and_the_end_of_its_stage(acted):
    weigh, warm, skin = draw_rail(acted)
    moves = [json.loads(b.to_plotly_json()["props"]["data-moves"]) for b in buttons(weigh)]
    assert [(m["event"], m["what"]) for m in moves[0]] == [
        (2, "start of Weigh in"),
        (5, "end of Weigh in"),
    ]
    assert len(buttons(warm)) == 1
    assert buttons(skin) == []


def test_a_start_by_the_sheets_rule_is_nobodys_act(acted):
    acted.acts[1].t_s = 39.0
    assert [a.event for a in ends_of(acted.stages[0], acted.acts)] == [2]


def test_the_undo_button_names_the_last_act(acted):
    undo = next(b for b in buttons(draw_controls(acted)) if b.id == "do-undo")
    assert "confirmed piece 2, 1:00" in text_of(undo)


def idle(**more):
    left = GoOnRow(run="20261125-0913-a3f2", sheet="Roll", at="14:02", t_s=90.0, **more)
    return State(channels=[], go_on=left)


def test_a_batch_that_was_cut_off_is_offered_first(heat_state):
    state = idle(interrupted=True, stage="Pour the fat in")
    state.channels = heat_state.channels
    go_on, start = buttons(draw_controls(state))
    assert "with the batch of 14:02" in text_of(go_on)
    assert "main" in go_on.className
    assert "main" not in start.className
    tone, say, more = what_to_say(state)
    assert (tone, say) == ("do", "Go on with the batch of 14:02?")
    assert "interrupted in Pour the fat in after 1 min 30 s" in more[0]


def test_a_batch_that_was_ended_can_go_on_but_comes_second(heat_state):
    state = idle()
    state.channels = heat_state.channels
    go_on, start = buttons(draw_controls(state))
    assert "main" not in go_on.className
    assert "main" in start.className
    _, say, more = what_to_say(state)
    assert say == "Ready when you are."
    assert more[0].endswith("Or Go on with the batch of 14:02.")


def test_a_correction_without_a_recorder_says_which_command_does_it(tmp_path, fake_client):
    fake_client.now = None
    links = Links(tmp_path, fake_client)
    about = {"event": 7, "to_s": 3.0, "run": "20261125-0913-a3f2"}
    said = carry_out(links, Command(do="move", about=about, n="1"))
    assert "bainlog events 20261125-0913-a3f2 --move 7 --to TIME" in said.text


def test_what_was_taken_back_is_not_drawn_and_what_was_moved_is_drawn_where_it_belongs(fake_run):
    def said(kind, t_s, seq, **data):
        return Event(t_ns=round(t_s * 1e9), kind=kind, source="operator", data=data, seq=seq)

    def names(mark):
        return {"event": mark.seq, "at_ns": mark.t_ns, "was_s": mark.t_ns / 1e9}

    feed = Feed(lambda run_id: fake_run)
    wrong, late = said("mark", 10, 1), said("mark", 20, 2)
    fake_run.happened = [wrong, late]
    assert [e.t_ns / 1e9 for e in feed.events("r")] == [10.0, 20.0]
    fake_run.happened += [said("undo", 21, 3, **names(wrong))]
    fake_run.happened += [said("move", 22, 4, **names(late), to_s=15.0)]
    assert [(e.kind, e.t_ns / 1e9) for e in feed.events("r")] == [("mark", 15.0)]

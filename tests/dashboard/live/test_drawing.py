"""What the parts of the live page say for a given state."""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from dashboard.links import Links
from dashboard.live import asking, board, health, numbers, rail, sentence, table, trouble
from dashboard.live.controls import draw_controls
from dashboard.live.drawing import canvas
from dashboard.live.page import draw_parts
from dashboard.measures import Measures
from dashboard.points import Points
from dashboard.runs.told import Told
from logger.model.event import Event
from logger.model.state import AlarmView, Number, Proposal, StageView
from logger.store.folder.datafolder import KEEPER_LOCK
from logger.store.folder.lock import FileLock
from tests.dashboard.pages import text_of

METRIC = Measures()


def alarm(state: str) -> AlarmView:
    return AlarmView(id="a", text="", state=state, since_s=0.0)


def all_of(kind: str, part: Any) -> list[Any]:
    """All components of a kind in a drawn part."""
    if isinstance(part, list):
        return [found for one in part for found in all_of(kind, one)]
    below = all_of(kind, getattr(part, "children", None)) if part is not None else []
    return [part, *below] if getattr(part, "_type", "") == kind else below


def is_to(button: Any, command: str) -> bool:
    return getattr(button, "data-do", "") == command


def mains(state: Any) -> list[Any]:
    """The buttons with the accent."""
    return [b for b in all_of("Button", draw_controls(state)) if "main" in b.className]


def as_json(part: Any) -> str:
    return json.dumps(part, default=lambda p: p.to_plotly_json())


def test_the_sentence_is_the_engines_own(heat_state):
    text = text_of(sentence.draw_sentence(heat_state))
    assert "Water phase 3 K too cool: keep warming it." in text
    assert "The fat stays melted for another 9 to 14 min." in text


@pytest.mark.parametrize("tone", ["calm", "do", "wait", "warn", "stop"])
def test_a_tone_is_said_in_words_and_by_a_symbol(heat_state, tone):
    heat_state.view.tone = tone
    drawn = sentence.draw_sentence(heat_state)
    assert sentence.TONES[tone] in text_of(drawn)
    assert f"sym-{tone}" in as_json(drawn)


def test_no_recorder_is_said_plainly_and_shows_no_number(heat_state):
    assert "does not answer" in text_of(sentence.draw_sentence(None))
    assert "bainlog start" in text_of(sentence.draw_sentence(None))
    assert text_of(rail.draw_rail(None)) == "No recorder answers"
    assert numbers.draw_numbers(None, METRIC) == []
    assert draw_parts(None, METRIC)["now-controls"] == []


def test_a_recorder_that_is_being_replaced_asks_for_nothing(tmp_path):
    assert not Links(tmp_path).is_kept()
    with FileLock(tmp_path / KEEPER_LOCK, "the recorder"):
        assert Links(tmp_path).is_kept()
    text = text_of(draw_parts(None, METRIC, kept=True)["now-sentence"])
    assert "there is nothing to do" in text
    assert "Start it again" not in text


def test_idle_asks_to_start(heat_state):
    heat_state.phase = "idle"
    assert "Start batch" in text_of(draw_controls(heat_state))
    assert numbers.draw_numbers(heat_state, METRIC) == []


def test_a_number_stands_with_its_uncertainty_and_its_band(heat_state):
    text = text_of(numbers.draw_numbers(heat_state, METRIC))
    assert "46.1" in text
    assert "± 0.6 °C" in text
    assert "on target, 44 to 58 °C" in text


def test_a_number_that_is_not_there_is_words(heat_state):
    assert "can't tell yet" in text_of(numbers.draw_numbers(heat_state, METRIC))


@pytest.mark.parametrize(
    ("verdict", "word"),
    [
        ("met", "on target, 44"),
        ("not met", "above target, 44"),
        ("undecided", "too close to call, 44"),
    ],
)
def test_a_verdict_is_a_word(heat_state, verdict, word):
    heat_state.view.numbers[0].verdict = verdict
    assert word in text_of(numbers.draw_numbers(heat_state, METRIC))


def test_a_number_still_going_up_to_its_band_is_on_its_way_not_unsure(heat_state):
    """A bowl being filled, a bath of time that runs: there is nothing to be unsure about yet."""
    bowl = Number(label="Beet stock", value=120.0, unit="g", u_expanded=0.6, low=174.0, high=184.0,
                  verdict="undecided")  # fmt: skip
    heat_state.view.numbers = [bowl]
    assert "not there yet, 174 to 184 g" in text_of(numbers.draw_numbers(heat_state, METRIC))
    bowl.value = 173.8
    assert "too close to call, 174 to 184 g" in text_of(numbers.draw_numbers(heat_state, METRIC))


def test_a_number_on_its_way_says_how_long(heat_state):
    fat = Number(label="Fat", value=36.0, unit="degC", u_expanded=0.6, low=44.0, high=58.0,
                 verdict="not met", left_s=250.0)  # fmt: skip
    soak = Number(label="Time", value=100.0, unit="s", low=360.0, u_expanded=2.0,
                  verdict="undecided", left_s=260.0)  # fmt: skip
    heat_state.view.numbers = [fat, soak]
    text = text_of(numbers.draw_numbers(heat_state, METRIC))
    assert "not there yet, 44 to 58 °C; about 4 min at this rate" in text
    assert "not there yet, at least 6:00; 4:20 to go" in text


def test_a_number_of_unknown_uncertainty_is_neither_close_nor_on_its_way(heat_state):
    for value in (46.1, 20.0):
        heat_state.view.numbers = [
            Number(label="Fat", value=value, unit="degC", low=44.0, verdict="undecided")
        ]
        text = text_of(numbers.draw_numbers(heat_state, METRIC))
        assert "uncertainty unknown, at least 44 °C" in text


def test_a_verdict_from_an_assumed_uncertainty_says_so(heat_state):
    heat_state.view.numbers[0].assumed = True
    assert "on target (assumed), 44" in text_of(numbers.draw_numbers(heat_state, METRIC))


def test_a_check_without_data_reads_not_measured(heat_state):
    heat_state.view.numbers = [
        Number(label="Core", value=None, unit="degC", low=75.0, verdict="not measured")
    ]
    text = text_of(numbers.draw_numbers(heat_state, METRIC))
    assert "not measured" in text
    assert "target at least 75 °C" in text


def test_fahrenheit_and_ounces_reach_every_part(heat_state):
    parts = draw_parts(heat_state, Measures(temp="F", mass="oz"))
    assert "115.0" in text_of(parts["now-numbers"])
    assert "°F" in text_of(parts["now-health"])
    assert " oz" in text_of(parts["now-health"])
    assert "°C" not in text_of(parts["now-table"])


def test_the_rail_tells_done_now_and_ahead(heat_state):
    drawn = rail.draw_rail(heat_state)
    assert [rail.status_of(s, heat_state) for s in heat_state.stages] == ["done", "now", "ahead"]
    assert "took 0:40 of 5:00" in text_of(drawn[0])
    assert "1:00 of 10:00" in text_of(drawn[1])
    assert "15:00 planned" in text_of(drawn[2])


def test_a_stage_that_takes_longer_than_planned_says_over(heat_state):
    heat_state.t_s = 700.0
    assert "over" in text_of(rail.draw_rail(heat_state)[1])


def test_the_board_tells_each_piece_by_word(bath_state):
    text = text_of(board.draw_board(bath_state))
    assert "2 in the bath" in text
    assert "take it out now" in text
    assert "out in 2:40 to 8:40" in text
    bath_state.view.board[1].due_in_s = 175.0
    assert "out in  2:55" in text_of(board.draw_board(bath_state))
    assert "which piece?" in text


def test_only_a_known_piece_in_the_bath_has_an_out_button(bath_state):
    keys = [b for b in all_of("Button", draw_controls(bath_state)) if is_to(b, "piece_out")]
    assert [b.id for b in keys if hasattr(b, "id")] == ["do-good"]
    assert sorted(getattr(b, "data-piece", "") for b in keys) == ["", "1", "2"]


def test_many_pieces_stand_in_two_columns_and_those_out_in_one_line(bath_state):
    row = bath_state.view.board[1]
    bath_state.view.board = [
        replace(row, immersion=n, piece=n, status="out" if n > 9 else "in", verdict="met")
        for n in range(1, 13)
    ]
    _, rows, out = board.draw_board(bath_state)
    assert (len(rows.children), rows.className) == (9, "board in-two")
    assert text_of(out) == "Out: 10 after 3:20, 11 after 3:20, 12 after 3:20"


def test_the_clock_of_a_stage_stood_while_the_batch_was_ended(heat_state):
    heat_state.t_s, stage = 1000.0, heat_state.stages[1]
    stage.start_s, stage.paused_s = 400.0, 300.0
    assert "5:00 of 10:00" in text_of(rail.draw_rail(heat_state)[1])
    assert rail.status_of(stage, heat_state) == "now"
    stage.paused_s = 0.0
    heat_state.t_s = 1001.0
    assert rail.status_of(stage, heat_state) == "over"


def test_the_end_form_says_which_pieces_are_still_in_the_bath(bath_state):
    inside = [r.piece for r in bath_state.view.board if r.status in ("in", "due", "overdue")]
    counted = f"{len(inside)} pieces" if len(inside) > 1 else "1 piece"
    said = asking.still_in_bath(bath_state)
    assert said == f"{counted} still in the bath: {', '.join(map(str, inside))}."
    for row in bath_state.view.board:
        row.status, row.out_s = "out", row.in_s + 200.0
    assert asking.still_in_bath(bath_state) == ""


def test_several_alarms_that_are_over_stand_behind_one_line_after_the_new_ones(bath_state):
    new = bath_state.alarms[0]
    over = [replace(new, id=f"{n}", state="returned unacknowledged") for n in range(3)]
    bath_state.alarms = [*over, new]
    first, folded = trouble.draw_trouble(bath_state)
    assert new.text in text_of(first)
    assert "3 alarms: over now, not acknowledged" in text_of(folded)
    assert as_json(folded).count('"data-do": "ack"') == 3


def test_a_new_alarm_can_be_acknowledged_and_set_aside(bath_state):
    drawn = as_json(trouble.draw_trouble(bath_state))
    assert '"data-do": "ack"' in drawn
    assert '"data-do": "shelve"' in drawn
    assert '"data-sounds": "1"' in drawn


@pytest.mark.parametrize(
    ("state", "kind"),
    [
        ("active unacknowledged", "new"),
        ("active acknowledged", "seen"),
        ("returned unacknowledged", "over"),
        ("latched", "kept"),
        ("shelved", "aside"),
        ("suppressed", "none"),
        ("out of service", "none"),
        ("normal", "none"),
    ],
)
def test_every_alarm_state_of_the_engine_is_known(state, kind):
    assert trouble.kind_of(alarm(state)) == kind


def test_the_alarm_states_are_all_those_the_engine_has():
    from typing import get_args

    from logger.model.state import AlarmState

    shown = {s for s in get_args(AlarmState) if trouble.kind_of(alarm(s)) != "none"}
    assert shown == {
        "active unacknowledged", "active acknowledged", "returned unacknowledged", "latched",
        "shelved",
    }  # fmt: skip


def test_only_unseen_alarms_are_spoken(bath_state):
    assert trouble.new_ones(bath_state) == ["The bath is warmer than 24 °C: add ice."]


def test_a_proposal_takes_one_tap(bath_state):
    drawn = as_json(trouble.draw_proposals(bath_state))
    assert '"data-do": "accept"' in drawn
    assert '"data-do": "decline"' in drawn


@pytest.mark.parametrize("status", ["stale", "open", "fault", "over", "under", "untrusted"])
def test_a_sensor_that_is_not_live_shows_no_value(heat_state, status):
    heat_state.channels[0].status = status
    row = health.draw_health(heat_state, METRIC)[0].children[2].children[0]
    assert "46.1" not in text_of(row)
    assert health.STATUS[status][1] in text_of(row)


def test_every_sensor_has_a_place_for_its_age(heat_state):
    drawn = as_json(health.draw_health(heat_state, METRIC))
    assert drawn.count('"data-age-of"') == len(heat_state.channels)


def test_an_overdue_check_is_named_and_one_never_made_is_a_calm_line(heat_state):
    assert "hecked" not in text_of(health.draw_health(heat_state, METRIC))
    fat = heat_state.channels[0]
    fat.check, fat.checked = "overdue", "checked 410 days ago; check it in ice water"
    for channel in heat_state.channels[2:4]:
        channel.check, channel.checked = "never", "never checked"
    drawn = health.draw_health(heat_state, METRIC)
    assert "Fat: checked 410 days ago; check it in ice water" in text_of(drawn[1])
    assert text_of(drawn[2]) == "Never checked: Emulsion, Bath"
    assert "warn" in as_json(drawn[1])
    assert "warn" not in as_json(drawn[2])


def test_a_full_disk_is_said(heat_state):
    heat_state.recorder.disk = "full"
    assert "disk is full" in text_of(health.draw_ports(heat_state))


def test_cautions_stand_at_their_stage_only_while_it_runs(heat_state):
    assert "Hot fat burns" in text_of(sentence.draw_cautions(heat_state))
    heat_state.phase = "idle"
    assert sentence.draw_cautions(heat_state) == []


def test_the_last_stage_offers_no_next(bath_state):
    text = text_of(draw_controls(bath_state))
    assert "Next stage" not in text
    assert "End batch" in text


def test_the_next_button_names_the_stage(heat_state):
    assert "Next stage Set the skin" in text_of(draw_controls(heat_state))


def test_the_traces_stand_as_a_table_too(heat_state):
    text = text_of(table.draw_table(heat_state, METRIC))
    assert "Fat 46.1 °C ± 0.6 44 to 58 °C" in text


def test_markup_in_a_name_stays_text(heat_state):
    """Components hold text; nothing is drawn as raw markup."""
    heat_state.view.say = "<img src=x onerror=alert(1)>"
    drawn = as_json(sentence.draw_sentence(heat_state))
    assert "dangerously_allow_html" not in drawn
    assert "<img src=x onerror=alert(1)>" in text_of(sentence.draw_sentence(heat_state))


def test_a_newcomer_is_told_how_to_begin_with_and_without_instruments():
    text = text_of(sentence.draw_sentence(None, first=True))
    assert "Nothing is plugged in yet." in text
    assert "bainlog demo" in text
    assert "bainlog ports --write" in text
    assert "does not answer" in text_of(sentence.draw_sentence(None))


def test_a_recorder_without_a_channel_leads_to_the_instruments(heat_state):
    heat_state.phase, heat_state.channels = "idle", []
    drawn = as_json(sentence.draw_sentence(heat_state))
    assert "Nothing is plugged in yet." in drawn
    assert "/instruments" in drawn


def test_the_line_of_the_batch_says_how_it_keeps_to_its_plan(heat_state):
    heat_state.t_s, heat_state.stages[1].start_s = 700.0, 310.0
    assert text_of(rail.draw_batch(heat_state)) == "Batch 11:40 of 30:00 on time"
    heat_state.stages[1].start_s = 420.0
    assert text_of(rail.draw_batch(heat_state)) == "Batch 11:40 of 30:00 2:00 behind plan"
    heat_state.stages[1].start_s = 200.0
    assert text_of(rail.draw_batch(heat_state)) == "Batch 11:40 of 30:00 1:40 ahead of plan"
    heat_state.t_s = 300.0 + heat_state.stages[1].planned_s + 19.0
    assert "0:19 behind plan" in text_of(rail.draw_batch(heat_state))


def test_a_stage_is_as_wide_as_it_is_planned_to_be_long(heat_state):
    assert [t.style["flexGrow"] for t in rail.draw_rail(heat_state)] == ["5.0", "10.0", "15.0"]


def test_without_planned_times_the_batch_has_no_line(heat_state):
    for stage in heat_state.stages:
        stage.planned_s = None
    assert rail.draw_batch(heat_state) == []


def test_a_bath_stage_offers_a_piece_by_hand_before_the_scale_saw_any(bath_state):
    bath_state.view.board, bath_state.proposals = [], []
    (main,) = mains(bath_state)
    assert is_to(main, "piece_in")
    assert text_of(main).startswith("Piece 1 is in")


def test_the_piece_to_confirm_is_the_unsure_one_else_the_latest(bath_state):
    rows = [replace(row, piece=row.immersion) for row in bath_state.view.board]
    assert board.row_to_confirm(rows).piece == 3
    rows[2].status = "out"
    assert board.row_to_confirm(rows).piece == 3
    assert board.row_to_confirm(rows[:2]).piece == 2
    assert board.row_to_confirm([]) is None


def test_the_button_confirms_the_piece_that_the_question_asks_for(bath_state):
    bath_state.view.board = [replace(r, piece=r.immersion) for r in bath_state.view.board]
    about = {"immersion": 1, "piece": 1}
    bath_state.proposals = [
        Proposal(id="skin.piece.1", text="Was that piece 1?", what="piece", t_s=1.0, data=about)
    ]
    assert board.row_to_confirm(bath_state.view.board, bath_state.proposals).immersion == 1
    assert '\\"immersion\\": 1, \\"piece\\": 1' in as_json(draw_controls(bath_state))


def test_an_unsure_piece_is_named_with_one_tap(bath_state):
    rows = bath_state.view.board
    for row in rows:
        row.piece = row.immersion
    rows[1].status, rows[1].out_s = "unsure", 940.0
    drawn = as_json(board.draw_board(bath_state))
    assert "It was piece 2" in drawn
    assert "It was piece 3" in drawn
    assert "It was piece 1" not in drawn
    confirm = as_json(draw_controls(bath_state))
    assert "confirm_piece" in confirm


def test_the_strips_lines_and_marks_stand_in_tables(heat_state):
    line = Told("Fat", Points(np.array([0.0, 60.0]), np.array([20.0, 46.1])), "degC")
    mark = Event(t_ns=30_000_000_000, kind="mark", source="operator", text="stirred", seq=1)
    text = text_of(table.draw_table(heat_state, METRIC, [line], [mark]))
    assert "Fat: from 20.0 to 46.1 °C" in text
    assert "0:30 stirred" in text


def test_the_script_that_paints_the_strip_has_the_same_start_of_the_axis():
    script = Path(canvas.__file__).parents[2] / "assets" / "strip.js"
    assert f"START_MS = {canvas.AXIS_START_MS:_};" in script.read_text(encoding="utf-8")


def test_the_line_of_the_sensors_says_how_many_are_live_and_opens_for_one_that_is_not(heat_state):
    def line():
        drawn = health.draw_sensors(heat_state)
        return text_of(drawn).strip(), hasattr(drawn, "data-opens-fold")

    count = len(heat_state.channels)
    for channel in heat_state.channels:
        channel.status = "live"
    assert line() == (f"{count} sensors live", False)
    heat_state.channels[0].status = "waiting"
    assert line() == (f"Waiting for 1 of {count} sensors", False)
    heat_state.channels[0].status = "open"
    assert line() == (f"{heat_state.channels[0].label}: open circuit", True)
    heat_state.channels[1].status = "stale"
    assert line() == (f"{count - 2} of {count} sensors live", True)
    heat_state.phase = "idle"
    assert line()[1]


def test_a_batch_that_has_just_been_started_asks_for_nothing_yet(heat_state):
    heat_state.t_s, heat_state.acts, heat_state.view = 0.4, [], StageView(say="Ready to record")
    for stage in heat_state.stages:
        stage.start_s = stage.end_s = None
    for channel in heat_state.channels:
        channel.status = "waiting"
    said = text_of(sentence.draw_sentence(heat_state))
    assert "The batch is starting." in said
    assert "Ready" not in said
    assert text_of(health.draw_sensors(heat_state)).strip().startswith("Waiting for")
    assert mains(heat_state) == []
    heat_state.t_s = 60.0  # its first stage was taken back
    assert "Ready to record" in text_of(sentence.draw_sentence(heat_state))


def test_the_end_of_a_batch_is_never_the_button_that_stands_out(heat_state):
    heat_state.view.tone, heat_state.t_s = "do", 10_000.0
    for stage in heat_state.stages:
        heat_state.stage = stage.id
        last = stage is heat_state.stages[-1]
        assert [button.id for button in mains(heat_state)] == (["do-do"] if last else ["do-next"])


def test_the_button_that_stands_out_is_what_the_sentence_asks_for(bath_state):
    assert mains(bath_state) == []  # the question above it has the accent
    assert as_json(trouble.draw_proposals(bath_state)).count("key small main") == 1
    bath_state.proposals = []
    (main,) = mains(bath_state)
    assert is_to(main, "piece_out")
    assert text_of(main).startswith("Piece 1 is out the scale also notices by itself")
    bath_state.view.tone = "wait"
    assert mains(bath_state) == []


@pytest.mark.parametrize(("value", "tone", "count"), [(46.1, "do", 1), (46.1, "wait", 0)])
def test_next_stands_out_only_when_nothing_is_to_be_waited_for(heat_state, value, tone, count):
    heat_state.view.tone = tone
    assert len(mains(heat_state)) == count
    fat = heat_state.view.numbers[0]
    fat.value, fat.verdict = value - 10.0, "not met"
    assert mains(heat_state) == []
    drawn = numbers.draw_numbers(heat_state, METRIC)[0]
    assert drawn.className == "tile look-ring"
    heat_state.view.tone = "warn"  # it leaves its band
    assert "below target" in text_of(numbers.draw_numbers(heat_state, METRIC)[0])
    assert numbers.draw_numbers(heat_state, METRIC)[0].className == "tile look-warn"


def test_alarms_that_came_and_went_are_counted_and_listed(heat_state):
    assert text_of(trouble.draw_calm(heat_state, [])).strip() == "No alarms now"
    gone = Event(t_ns=60 * 10**9, kind="alarm", source="engine", text="Fat is cold", seq=1,
                 data={"state": "normal"})  # fmt: skip
    assert "1 cleared" in text_of(trouble.draw_calm(heat_state, [gone]))
    assert "1:00" in text_of(trouble.draw_calm(heat_state, [gone]))

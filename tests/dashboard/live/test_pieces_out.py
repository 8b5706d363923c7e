"""A piece that is out, on every screen and in every table: in a gap, and off its target."""

from dashboard.live.board import draw_board
from dashboard.measures import Measures
from dashboard.runs.bars import draw_pieces
from dashboard.runs.tables import draw_dwells
from logger.cli.runs import _immersion
from tests.dashboard.pages import text_of
from tests.watch.stages.set.bath_stage import SECOND, engine_for, play, readings


def test_a_piece_that_came_out_in_a_gap_is_out_everywhere_with_its_interval():
    engine = engine_for()
    play(engine, readings([(70, 60, 240)], 300, silent=[(230, 250)]), 300)
    (row,) = engine.results().immersions
    (shown,) = engine.state(300 * SECOND).view.board
    assert (row.inside, shown.inside, shown.status) == (False, False, "out")
    assert shown.says == "out between 3:50 and 4:10"
    (one,) = draw_board(engine.state(300 * SECOND))[1].children
    assert "0 in the bath" in text_of(draw_board(engine.state(300 * SECOND)))
    assert "2:50 to 3:10" in text_of(one)
    assert "3:50 to 4:10" in text_of(draw_dwells([row]))
    assert "still in" not in text_of(draw_pieces(engine.results(), Measures()))
    assert _immersion(row)[2:4] == ["3:50 to 4:10", "2:50 to 3:10"]


def test_a_dwell_off_its_target_is_no_piece_well_out():
    engine = engine_for()
    play(engine, readings([(70, 60, 240), (80, 70, 500)], 520), 520)
    state = engine.state(520 * SECOND)
    assert [(r.piece, r.status, r.verdict) for r in state.view.board] == [
        (1, "out", "met"), (2, "out", "not met"),
    ]  # fmt: skip
    assert state.view.say == "All pieces are out of the bath. Dwell not met for piece 2."
    assert state.view.tone == "warn"
    good, long = draw_board(state)[1].children
    assert ("look-good" in good.className, "look-stop" in long.className) == (True, True)
    assert "out, not met" in text_of(long)

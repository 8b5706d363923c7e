"""Baths of odd sheets and odd words: no crash, no wrong number, and a sentence that helps."""

import pytest

from logger.model.errors import InputError
from logger.model.files import sheet_from_text
from tests.watch.stages.set.bath_stage import (
    SECOND,
    SHEET,
    engine_for,
    found,
    operator,
    play,
    readings,
)

DWELL = 'dwell = { low = "150 s", high = "240 s" }\n'
PIECE = 'piece = { body = "cylinder", diameter = "26 mm", length = "130 mm" }\n'
MASSES = 'piece_masses = ["70 g", "80 g"]\n'
DIPS = [(70, 20, 190), (80, 30, 220)]


def taps(words, text=SHEET, until_s=260):
    """Play words at a bath without a scale."""
    engine = engine_for(text, roles=("bath",))
    items = [i for i in readings([], until_s) if i.channel == "bath"]
    play(engine, [*items, *words], until_s)
    engine.finish(until_s * SECOND)
    return engine


def rows(engine):
    return [(r.piece, r.dwell_s) for r in engine.results().immersions]


@pytest.mark.parametrize(
    "text",
    [
        SHEET.replace(PIECE, ""),
        SHEET.replace('expected_coat = "0.5 mm"\n', ""),
        SHEET.replace('"0.5 mm"', '"20 mm"'),
        SHEET.replace(DWELL, ""),
        SHEET.replace('"150 s", high = "240 s"', '"0 s", high = "0 s"'),
        SHEET.replace(', high = "240 s"', ""),
        SHEET.replace('low = "150 s", ', ""),
        SHEET.replace("pieces = 2\n", ""),
        SHEET.replace(MASSES, ""),
        SHEET.replace("pieces = 2\n", "").replace('"80 g"]', '"80 g", "90 g"]'),
        SHEET.replace('bath = { low = "14 degC", high = "24 degC" }\n', ""),
        SHEET.replace('salt = "calcium_chloride_anhydrous"\n', ""),
        SHEET.replace('"15 g"', '"1 mg"'),
        SHEET.replace('"15 g"', '"1480 g"'),
        SHEET.replace('"7.5 g"', '"80 g"'),
        '[sheet]\nname = "bare"\n[[stage]]\nid = "skin"\nkind = "set"\n',
    ],
)
@pytest.mark.parametrize("roles", [("bath", "bath_scale"), ("bath_scale",), ("room",)])
def test_an_odd_sheet_still_times_its_pieces(text, roles):
    engine = engine_for(text, roles)
    items = [i for i in readings([(70, 20, 60), (80, 30, 220)], 245) if i.channel in roles]
    for t_s in range(35, 246, 35):
        play(engine, [i for i in items if (t_s - 35) * SECOND <= i.t_ns < t_s * SECOND], t_s)
        view = engine.state(t_s * SECOND).view
        assert view.say
        assert "nan" not in " ".join([view.say, *view.more]).lower()
    engine.finish(245 * SECOND)
    if "bath_scale" in roles:
        dwells = sorted(round(r.dwell_s) for r in engine.results().immersions)
        assert dwells == [40, 190]


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('length = "130 mm"', 'length = "10 mm"', "at least as long as it is thick"),
        ('"70 g", "80 g"', '"0 g", "80 g"', "above 0|greater than 0"),
        ('"70 g", "80 g"', '"-5 g", "80 g"', "above 0|greater than 0"),
        ('low = "150 s"', 'low = "-150 s"', "a time cannot be"),
    ],
)
def test_what_no_piece_and_no_dwell_can_be_is_refused_when_the_sheet_is_read(old, new, says):
    with pytest.raises(InputError, match=says):
        sheet_from_text(SHEET.replace(old, new), "roll.sheet.toml")


def test_a_piece_told_in_twice_is_one_piece():
    engine = taps(
        [operator(20, "piece_in", piece=1), operator(24, "piece_in", piece=1),
         operator(200, "piece_out", piece=1), operator(203, "piece_out", piece=1)]
    )  # fmt: skip
    assert rows(engine) == [(1, 180.0)]
    assert found(engine, "dwell", 1).verdict == "met"


@pytest.mark.parametrize("piece", [0, -3, 10**9, True, 1.0, "1", None])
def test_what_is_no_piece_is_no_word(piece):
    assert rows(taps([operator(20, "piece_in", piece=piece)])) == []


@pytest.mark.parametrize("mass_g", [0.0, -1.0, float("nan"), float("inf"), True, "80"])
def test_what_is_no_mass_registers_no_piece(mass_g):
    engine = engine_for()
    word = operator(5, "register_piece", piece=1, mass_g=mass_g)
    play(engine, [word, *readings(DIPS, 240)], 240)
    engine.finish(240 * SECOND)
    assert [round(d) for _, d in rows(engine)] == [170, 190]


def test_a_mark_after_all_pieces_are_out_is_no_further_piece():
    engine = taps([operator(t, "mark") for t in (20, 30, 200, 210, 220, 230)])
    assert rows(engine) == [(1, 180.0), (2, 180.0)]


def test_a_word_against_the_scale_takes_no_measured_dwell_away():
    engine = engine_for()
    play(engine, [operator(120, "piece_out", piece=1), *readings(DIPS, 240)], 240)
    engine.finish(240 * SECOND)
    assert [round(d) for _, d in rows(engine)] == [170, 190]
    assert found(engine, "dwell", 1).verdict == "met"


def test_of_a_piece_that_was_in_twice_the_longer_dwell_is_judged():
    words = [
        operator(20, "piece_in", piece=1), operator(200, "piece_out", piece=1),
        operator(210, "piece_in", piece=1), operator(230, "piece_out", piece=1),
    ]  # fmt: skip
    engine = taps(words)
    assert found(engine, "dwell", 1).value == pytest.approx(180.0)
    assert engine.results().pieces[0].dwell_s == pytest.approx(180.0)
    ids = [a["alarm"] for a in engine.results().alarms] if engine.results().alarms else []
    assert len(ids) == len(set(ids))


def test_pieces_that_were_never_seen_are_told_and_never_pass():
    engine = engine_for(SHEET.replace("pieces = 2\n", "pieces = 5\n").replace(MASSES, ""))
    play(engine, readings(DIPS, 240), 240)
    engine.finish(240 * SECOND)
    missing = found(engine, "dwell of pieces not seen")
    assert missing.verdict == "not measured"
    assert missing.evidence.startswith("3 of 5 pieces were not seen in the bath")


def test_the_calcium_wanted_counts_all_pieces_that_came():
    """Two coats want twice what one wants; the sheet does not say how many there will be."""
    wanted = []
    for dips in (DIPS[:1], DIPS):
        engine = engine_for(SHEET.replace("pieces = 2\n", "").replace(MASSES, ""))
        play(engine, readings(dips, 240), 240)
        engine.finish(240 * SECOND)
        wanted.append(found(engine, "calcium needed by all coats").value)
    assert wanted[1] == pytest.approx(2.0 * wanted[0])


def test_a_bath_that_cannot_set_says_how_much_too_little_without_jargon():
    engine = engine_for(SHEET.replace('"15 g"', '"10 mg"'))
    play(engine, readings(DIPS, 100), 100)
    view = engine.state(100 * SECOND).view
    assert view.tone == "stop"
    assert "binds 4.6 times the calcium it holds. Add salt" in view.say
    assert "found" not in view.say
    engine.finish(100 * SECOND)
    assert found(engine, "skin set through", 1).verdict == "not measured"


def test_losses_too_small_to_count_are_not_told():
    engine = engine_for()
    play(engine, readings(DIPS, 100), 100)
    assert "0%" not in " ".join(engine.state(100 * SECOND).view.more).replace("80%", "")


@pytest.mark.parametrize("off_g", [-8, -4, 2, 4, 8])
def test_a_piece_weighed_wrongly_is_not_lost(off_g):
    """The board must call a piece that is in the bath, whatever was written down for it."""
    engine = engine_for()
    dips = [(70 + off_g, 20, 190), (80, 30, 220)]
    play(engine, readings(dips, 100), 100)
    board = engine.state(100 * SECOND).view.board
    assert sorted(row.piece for row in board) == [1, 2]
    play(engine, [i for i in readings(dips, 240) if i.t_ns >= 100 * SECOND], 240)
    engine.finish(240 * SECOND)
    listed = {}
    for row in engine.results().immersions:
        dwells = [row.dwell_s, *(row.candidates if row.ambiguous else [])]
        listed[row.piece] = [round(d) for d in dwells]
    assert 170 in listed[1]
    assert 190 in listed[2]


@pytest.mark.parametrize("text", [SHEET, SHEET.replace(MASSES, "")])
@pytest.mark.parametrize("spoon_g", [20, 75])
def test_more_pieces_than_there_are_are_never_told(text, spoon_g):
    """A spoon lies in the bath for a while, as heavy as a piece or lighter."""
    engine = engine_for(text)
    play(engine, readings([*DIPS, (spoon_g, 100, 140)], 250), 250)
    engine.finish(250 * SECOND)
    assert [(p, round(d)) for p, d in rows(engine)] == [(1, 170), (2, 190)]


@pytest.mark.parametrize(
    ("later_s", "piece", "in_s"),
    [
        (6.0, PIECE.replace("130", "115"), [20, 26, 26]),
        (4.0, PIECE.replace("130", "115"), [20, 24, 24]),
        (6.0, "", [20, 26]),
    ],
)
def test_a_piece_and_soon_two_at_once_are_never_one(later_s, piece, in_s):
    """26 by 115 mm weighs about 57 g: 60 g, then 120 g. Without a size the second may be heavy."""
    text = SHEET.replace(MASSES, "").replace(PIECE, piece).replace("pieces = 2", "pieces = 6")
    engine = engine_for(text)
    later = 20.0 + later_s
    dips = [(60.0, 20.0, 1e9), (120.0, later, 1e9)]
    play(engine, readings(dips, 200), 200)
    found = engine.results().immersions
    assert [row.in_s for row in found] == pytest.approx(in_s, abs=0.3)
    assert all(row.confidence < 0.9 and row.out_s is None for row in found)


def test_water_poured_in_that_weighs_like_two_pieces_is_no_piece():
    engine = engine_for()
    items = readings([(150.0, 60.0, 1e9)], 140)
    poured = [
        i._replace(value=2600.0 + min(150.0, max(0.0, (i.t_ns / SECOND - 57.0) * 25.0)))
        if i.channel == "bath_scale"
        else i
        for i in items
    ]
    play(engine, poured, 140)
    engine.finish(140 * SECOND)
    assert rows(engine) == []


@pytest.mark.parametrize(("outs", "asked"), [((200, 215), False), ((60, 215), True)])
def test_it_asks_which_piece_it_was_only_where_a_verdict_hangs_on_it(outs, asked):
    """Two pieces alike: with both dwells in the band whichever it was, nothing is asked."""
    engine = engine_for(SHEET.replace('"70 g", "80 g"', '"75 g", "75 g"'))
    play(engine, readings([(75, 20, outs[0]), (75, 40, outs[1])], 240), 240)
    state = engine.state(240 * SECOND)
    assert any(p.what == "piece" for p in state.proposals) == asked
    assert ("not sure" in " ".join(state.view.more)) == asked


def test_a_skin_of_a_piece_that_cannot_be_told_is_undecided():
    """In for 30 s or for 200 s: neither set through nor not, until somebody says which it was."""
    engine = engine_for(SHEET.replace('"70 g", "80 g"', '"75 g", "75 g"'))
    play(engine, readings([(75, 20, 60), (75, 30, 220)], 245), 245)
    engine.finish(245 * SECOND)
    assert all(r.ambiguous for r in engine.results().immersions)
    assert {found(engine, "skin set through", p).verdict for p in (1, 2)} == {"undecided"}


def test_pieces_that_went_in_during_a_gap_are_called_as_if_they_had_gone_in_at_its_end():
    engine = engine_for()
    items = readings(DIPS, 240, silent=[(15, 35)])
    play(engine, [i for i in items if i.t_ns < 100 * SECOND], 100)
    view = engine.state(100 * SECOND).view
    assert view.say in ("Piece 1 is next, in 2 min 35 s.", "Piece 2 is next, in 2 min 35 s.")
    assert all("through" in row.says for row in view.board)
    play(engine, [i for i in items if i.t_ns >= 100 * SECOND], 240)
    engine.finish(240 * SECOND)
    skin = found(engine, "skin set through", 1)
    assert skin.verdict == "undecided"
    assert skin.expanded_uncertainty > found(engine, "dwell", 1).expanded_uncertainty


@pytest.mark.parametrize("answer", ["accept", "decline"])
def test_a_bath_that_got_heavier_in_a_gap_is_asked_about_once_all_pieces_are_out(answer):
    """90 g more than before a gap, and no piece left that could explain it."""
    engine = engine_for()
    dips = [(70, 20, 200), (80, 40, 230), (90, 290, 1000)]
    items = readings(dips, 460, silent=[(260, 330)])
    play(engine, [i for i in items if i.t_ns < 400 * SECOND], 400)
    view = engine.state(400 * SECOND).view
    asks = "Is a piece in the bath? The bath got 90.0 g heavier while its scale was silent, "
    assert view.say == asks + "4:20 to 5:30."
    assert view.tone == "warn"
    (asked,) = engine.state(400 * SECOND).proposals
    assert asked.text.endswith("Was that something else than a piece?")
    rest = [i for i in items if i.t_ns >= 400 * SECOND]
    play(engine, [operator(400, answer, proposal=asked.id), *rest], 460)
    state = engine.state(460 * SECOND)
    assert state.proposals == []
    assert ("Is a piece in the bath?" in state.view.say) is (answer == "decline")


@pytest.mark.parametrize("answer", ["accept", "decline"])
def test_a_bath_that_got_lighter_in_a_gap_than_any_piece_explains_is_asked_about(answer):
    """180 g went in together, and 60 g are missing after the scale was unplugged for 14 s."""
    engine = engine_for(SHEET.replace(MASSES, "").replace(PIECE, "").replace("= 2", "= 6"))
    items = readings([(120, 20, 1e9), (60, 20, 67)], 160, silent=[(60, 74)])
    play(engine, [i for i in items if i.t_ns < 100 * SECOND], 100)
    state = engine.state(100 * SECOND)
    told = "The bath got 60.0 g lighter while its scale was silent, 1:00 to 1:14."
    assert (state.view.say, state.view.tone) == (f"Did a piece come out? {told}", "warn")
    (asked,) = state.proposals
    assert asked.text == f"{told} Was that something else than a piece?"
    rest = [i for i in items if i.t_ns >= 100 * SECOND]
    play(engine, [operator(100, answer, proposal=asked.id), *rest], 160)
    state = engine.state(160 * SECOND)
    assert state.proposals == []
    assert ("Did a piece come out?" in state.view.say) is (answer == "decline")


def test_one_of_three_that_went_in_at_once_and_left_in_a_gap_has_an_interval():
    text = SHEET.replace(MASSES, "").replace("130", "115").replace("= 2", "= 6")
    engine = engine_for(text)
    dips = [(120, 20, 1e9), (60, 20, 67)]
    play(engine, readings(dips, 160, silent=[(60, 74)]), 160)
    rows = engine.results().immersions
    assert [row.in_s for row in rows] == pytest.approx([20, 20, 20], abs=0.3)
    (left,) = [row.out_between_s for row in rows if row.out_between_s is not None]
    assert left == pytest.approx((59.8, 74.0), abs=0.3)


def test_a_bath_that_is_as_heavy_as_before_a_gap_is_not_asked_about():
    engine = engine_for()
    dips = [(70, 20, 200), (80, 40, 230), (2, 290, 1000)]
    play(engine, readings(dips, 400, silent=[(260, 330)]), 400)
    state = engine.state(400 * SECOND)
    assert (state.proposals, state.view.say[:28]) == ([], "All pieces are out of the ba")


def test_a_scale_that_falls_silent_says_nothing_of_who_is_still_in():
    engine = engine_for()
    play(engine, readings(DIPS, 240, silent=[(185, 240)]), 240)
    engine.finish(240 * SECOND)
    dwell = found(engine, "dwell", 1)
    assert dwell.verdict == "not measured"
    assert dwell.evidence.startswith("the scale fell silent while it was in the bath")


@pytest.mark.parametrize(
    ("change", "count"),
    [
        (("pieces = 2\n", ""), 2),
        (("pieces = 2\n" + PIECE + MASSES, ""), None),
        (("[[stage]]", '[[stage]]\nid = "dip"\nkind = "coat"\npieces = 3\n\n[[stage]]'), 2),
        (
            (
                '[[stage]]\nid = "skin"\nkind = "set"\npieces = 2\n',
                '[[stage]]\nid = "dip"\nkind = "coat"\npieces = 3\n\n[[stage]]\nid = "skin"\n'
                'kind = "set"\n',
            ),
            3,
        ),
    ],
)
def test_how_many_pieces_will_come_is_what_the_sheet_says_anywhere(change, count):
    text = SHEET.replace(*change)
    engine = engine_for(text)
    play(engine, [operator(0, "stage", stage="skin"), *readings(DIPS[:1], 240)], 240)
    say = engine.state(240 * SECOND).view.say
    assert say == (
        "All pieces are out of the bath."
        if count is None
        else f"1 of {count} pieces is through. Put the next one in."
    )

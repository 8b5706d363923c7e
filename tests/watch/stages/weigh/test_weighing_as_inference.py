"""Which load was which ingredient: short, over, out of order, in portions, early and late."""

import pytest

from logger.model.reading import Reading
from logger.watch.stages.weigh.levels import Levels
from tests.watch.stages.weigh.test_weigh import SHEET, Scale

POWDERS = """
[sheet]
name = "Smoked beet and barley roll"
[[ingredient]]
name = "binder"
phase = "water"
mass = "8 g"
tolerance = "3 %"
[[ingredient]]
name = "salt"
phase = "water"
mass = "5 g"
tolerance = "3 %"
[[ingredient]]
name = "alginate"
phase = "coat"
mass = "7.5 g"
tolerance = "3 %"
[[ingredient]]
name = "coating water"
phase = "coat"
mass = "492.5 g"
tolerance = "3 %"
[[stage]]
id = "in"
kind = "weigh"
"""
TWINS = POWDERS.replace('mass = "8 g"', 'mass = "5 g"')


def test_a_short_ingredient_with_the_tare_key_is_that_ingredient_and_so_is_the_next():
    scale = Scale(POWDERS).wait().put(300.0).tare().put(5.5).tare().put(5.0).tare().put(7.5).tare()
    scale.put(492.0).tare()
    found = scale.found()
    assert {n: round(r.mass_g, 1) for n, r in scale.rows.items()} == {
        "binder": 5.5,
        "salt": 5.0,
        "alginate": 7.5,
        "coating water": 492.0,
    }
    assert found["mass of binder"].verdict == "not met"
    assert found["mass of coating water"].verdict == "met"


def test_an_overdose_with_a_mark_is_no_vessel():
    scale = Scale(POWDERS).wait().put(300.0).do("mark").wait().put(8.0).do("mark").wait()
    scale.put(12.3).do("mark").wait().put(7.5).do("mark").wait().put(492.5).do("mark").wait()
    assert scale.rows["salt"].mass_g == pytest.approx(12.3, abs=0.15)
    assert scale.found()["mass of coating water"].verdict == "met"


def test_a_tare_below_zero_loses_nothing_of_what_follows():
    scale = Scale(POWDERS).wait().put(300.0).tare().put(8.0).tare().put(-308.0)
    scale.tare().put(150.0).tare().put(5.0).tare().put(7.5).tare().put(492.5).tare()
    assert [round(r.mass_g, 1) for r in scale.rows.values()] == [8.0, 5.0, 7.5, 492.5]


def test_two_portions_of_one_are_one_ingredient():
    scale = Scale(POWDERS).wait().put(300.0).tare().put(5.2).tare().put(2.8).tare().put(5.0)
    scale.tare().put(7.5).tare().put(492.5).tare()
    found = scale.found()
    assert {n: (round(r.mass_g, 1), r.portions) for n, r in scale.rows.items()} == {
        "binder": (8.0, 2),
        "salt": (5.0, 1),
        "alginate": (7.5, 1),
        "coating water": (492.5, 1),
    }
    assert not any("not weighed in" in f.evidence for f in found.values())


def test_another_order_is_no_matter():
    scale = Scale(POWDERS).wait().put(300.0).tare().put(492.5).tare().put(7.5).tare()
    scale.put(5.0).tare().put(8.0).tare()
    found = scale.found()
    assert {n: round(r.mass_g, 1) for n, r in scale.rows.items()} == {
        "binder": 8.0,
        "salt": 5.0,
        "alginate": 7.5,
        "coating water": 492.5,
    }
    assert found["mass of coating water"].verdict == "met"
    assert not any("not weighed in" in f.evidence for f in found.values())


def test_what_was_never_on_the_scale_was_not_weighed_in_and_only_that():
    scale = Scale(POWDERS).wait().put(300.0).tare().put(492.5).tare().put(8.0).tare().put(7.5)
    found = scale.tare().found()
    assert [f.subject for f in found.values() if "not weighed in" in f.evidence] == ["salt"]


def test_what_cannot_be_told_is_asked_in_one_tap_and_not_judged():
    """Two ingredients of 5 g, one of them weighed in with half: only the cook knows which."""
    scale = Scale(TWINS).wait().put(300.0).tare().put(2.5).tare().put(5.0).tare()
    scale.put(7.5).tare().put(492.5).tare()
    [asked] = scale.proposals
    assert asked.text in (
        "Was this the binder? 2.50 g of 5 g",
        "Was this the salt? 5.00 g of 5 g",
        "Was this the binder? 5.00 g of 5 g",
        "Was this the salt? 2.50 g of 5 g",
    )
    untold = Scale(TWINS).wait().put(300.0).tare().put(2.5).tare().put(5.0).tare()
    assert untold.found()["mass of binder"].verdict == "not measured"
    wants = {"binder": 5.0, "salt": 2.5, "alginate": 7.5, "coating water": 492.5}
    for _ in range(3):
        for proposal in scale.proposals:
            name, mass_g = proposal.data["ingredient"], proposal.data["mass_g"]
            yes = abs(wants[name] - mass_g) < 0.2
            scale.do("accept" if yes else "decline", proposal=proposal.id).wait()
    assert scale.proposals == []
    found = scale.found()
    assert found["mass of binder"].value == pytest.approx(5.0, abs=0.15)
    assert found["mass of salt"].verdict == "not met"


def test_a_tap_can_be_taken_back():
    scale = Scale(TWINS).wait().put(300.0).tare().put(2.5).tare().put(5.0).tare()
    [asked] = scale.proposals
    scale.do("accept", proposal=asked.id).wait()
    assert asked.id not in [p.id for p in scale.proposals]
    scale.do("undo").wait()
    assert asked.id in [p.id for p in scale.proposals]


def test_powder_taken_out_of_its_jar_on_the_scale_is_weighed_in():
    scale = Scale(POWDERS).wait().put(412.0).tare().put(-8.0).put(-404.0).tare()
    scale.put(350.0).tare().put(-5.0).put(-345.0).tare()
    scale.put(300.0).tare().put(7.5).tare().put(492.5).tare()
    assert [round(r.mass_g, 1) for r in scale.rows.values()] == [8.0, 5.0, 7.5, 492.5]


def test_what_was_weighed_in_before_the_stage_began_and_after_it_ended_counts():
    later = SHEET + '[[stage]]\nid = "rest"\nkind = "hold"\n'
    scale = Scale.__new__(Scale)
    Scale.__init__(scale, later)
    scale.engine = scale.new_engine()
    scale.do("run_start").wait().put(300.0).tare().put(28.0).tare()
    scale.do("stage", stage="in").put(972.0).tare()
    scale.do("next").wait().put(180.0).tare()
    assert [round(r.mass_g) for r in scale.rows.values()] == [28, 972, 180]
    assert scale.found()["mass of calcium chloride"].verdict == "met"


def test_a_forgotten_beginning_is_offered():
    later = SHEET + '[[stage]]\nid = "rest"\nkind = "hold"\n'
    scale = Scale(later)
    scale.engine = scale.new_engine()
    scale.do("run_start").wait().put(300.0).tare().put(28.0).tare().put(972.0).tare().wait()
    [asked] = [p for p in scale.view_state.proposals if p.what == "begin_stage"]
    assert asked.text.startswith("2 ingredients have been weighed in since 0:")
    scale.do("accept", proposal=asked.id).wait()
    assert [round(r.mass_g) for r in scale.rows.values()] == [28, 972]


def test_the_stream_may_be_cut_anywhere():
    scale = Scale(TWINS).wait().put(300.0).tare().put(2.5).tare().put(5.0).tare()
    assert scale.same_in_pieces(7)


def test_a_gap_in_the_readings_is_no_ingredient():
    scale = Scale(POWDERS).wait().put(300.0).tare().put(8.0).tare()
    scale.t_s += 40.0
    scale.load_g += 77.0
    scale.wait().tare().put(5.0).tare().put(7.5).tare().put(492.5).tare()
    rows = {n: round(r.mass_g, 1) for n, r in scale.rows.items() if r.sure}
    assert rows == {"binder": 8.0, "salt": 5.0, "alginate": 7.5, "coating water": 492.5}


def test_going_back_to_the_weighing_after_forming_keeps_what_was_weighed_in():
    """Pieces on the same scale are no ingredients."""
    later = SHEET + '[[stage]]\nid = "shape"\nkind = "form"\n'
    scale = Scale(later).wait().put(300.0).tare().put(28.0).tare().put(972.0).tare().put(-1300.0)
    scale.do("stage", stage="shape").wait().weigh(61.0, 64.0).wait()
    scale.do("stage", stage="in").wait().tare().put(300.0).tare().put(180.0).tare()
    assert {n: round(r.mass_g) for n, r in scale.rows.items()} == {
        "calcium chloride": 28,
        "bath water": 972,
        "cocoa butter": 180,
    }


def test_a_bowl_that_weighs_as_much_as_a_forgotten_ingredient_is_asked_and_not_judged():
    scale = Scale(SHEET).wait().put(180.2).tare().put(28.0).tare().put(972.0).tare()
    [asked] = scale.proposals
    assert asked.text == "Was this the cocoa butter? 180.2 g of 180 g"
    assert scale.rows["calcium chloride"].sure
    scale.do("decline", proposal=asked.id).wait()
    assert "cocoa butter" not in scale.rows
    assert "it was not weighed in" in scale.found()["mass of cocoa butter"].evidence


def test_a_first_load_into_a_bowl_tared_earlier_is_booked_once_the_cook_says_so():
    scale = Scale(SHEET).wait().put(180.2).tare().put(28.0).tare().put(972.0).tare()
    [asked] = scale.proposals
    scale.do("accept", proposal=asked.id).wait()
    assert scale.proposals == []
    assert scale.rows["cocoa butter"].sure


def test_a_second_bowl_that_weighs_as_much_as_what_comes_next_is_asked_and_not_judged():
    """The bowl fits the target, and what is poured into it, half too much, looks like a bowl."""
    scale = Scale(SHEET).wait().put(300.0).tare().put(28.0).tare().put(972.0).tare().put(-1300.0)
    scale.put(180.2).tare().put(265.0).tare()
    [asked] = scale.proposals
    assert asked.text == "Was this the cocoa butter? 180.2 g of 180 g"
    scale.do("decline", proposal=asked.id).wait()
    assert scale.rows["cocoa butter"].mass_g == pytest.approx(265.0, abs=0.2)


def test_a_bowl_that_weighs_as_much_as_the_first_ingredient_is_asked_if_one_load_too_many_follows():
    heavy = SHEET.replace('mass = "28 g"', 'mass = "280 g"')
    scale = Scale(heavy, flags=True).wait().put(280.5).tare().put(425.0).tare().put(972.0).tare()
    assert not scale.put(180.0).tare().rows["calcium chloride"].sure
    assert scale.proposals[0].text == "Was this the calcium chloride? 280.5 g of 280 g"


def test_a_first_ingredient_of_its_mass_and_in_its_turn_is_no_bowl():
    scale = Scale(SHEET).wait().put(28.1).tare().put(972.0).tare().put(180.0).tare()
    assert scale.found()["mass of calcium chloride"].verdict == "met"
    assert all(row.sure for row in scale.rows.values())


def test_what_was_topped_up_and_tared_while_the_scale_was_silent_has_no_verdict():
    scale = Scale(POWDERS).wait().put(300.0).tare().put(8.0).tare().put(5.0).tare().put(5.0)
    scale.t_s += 8.0
    scale.load_g += 2.5
    scale.tare_g = scale.load_g
    scale.wait().put(492.5).tare()
    found = scale.found()
    assert found["mass of alginate"].verdict == "not measured"
    assert found["mass of coating water"].verdict == "met"


def test_what_may_have_been_weighed_in_while_the_scale_was_silent_is_not_denied():
    scale = Scale(POWDERS).wait().put(300.0).tare().put(8.0).tare()
    scale.t_s += 40.0
    scale.load_g += 5.0
    scale.tare_g += 5.0
    scale.wait().put(7.5).tare().put(492.5).tare()
    evidence = scale.found()["mass of salt"].evidence
    assert "can't tell: the scale was silent from 0:" in evidence
    assert "not weighed in" not in evidence


def test_a_tare_while_a_knock_dies_away_adds_nothing_to_the_load():
    """The display is 0.09 g above the 8 g at rest as the key is pressed, and stays off nought."""
    levels = Levels(0.01)
    knock = [106.55, 21.33, 9.8, 8.9, 8.24, 8.09]
    for n, shown_g in enumerate([0.0] * 12 + [8.0] * 12 + knock + [-0.23] + [-0.26] * 12):
        levels.take(Reading("bench_scale", n * 250_000_000, shown_g, 0.01))
    assert [level.final_g for level in levels.found] == pytest.approx([0.0, 8.0, -0.26], abs=0.011)


def test_portions_that_follow_each_other_closely_add_up_to_the_whole():
    """A scale that settles over a second: what it still gains is no drift."""
    levels, shown_g = Levels(0.01), 0.0
    for n in range(120):
        put_g = 4.0 if n < 20 else 5.0 if n < 44 else 6.0 if n < 68 else 6.5
        shown_g += 0.45 * (put_g - shown_g)
        levels.take(Reading("bench_scale", n * 100_000_000, round(shown_g, 2), 0.01))
    first, *rest = levels.found
    portions_g = [b.level_g - a.final_g for a, b in zip([first, *rest], rest, strict=False)]
    assert sum(portions_g) == pytest.approx(6.5 - first.final_g, abs=0.006)


def test_a_silence_after_the_weighing_is_no_excuse():
    scale = Scale(POWDERS).wait().put(300.0).tare().put(492.5).tare().put(8.0).tare().put(7.5)
    scale.tare().do("next").wait()
    scale.t_s += 40.0
    scale.wait()
    assert "it was not weighed in" in scale.found()["mass of salt"].evidence

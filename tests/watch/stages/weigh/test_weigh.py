"""Weighing in on a scale that shows 0.1 g: tares, one bowl, too much, by hand."""

import math

import pytest

from tests.watch.bench_person import Person, S

SHEET = """
[sheet]
name = "Smoked beet and barley roll"
[[ingredient]]
name = "calcium chloride"
phase = "bath"
salt = "calcium_chloride_dihydrate"
mass = "28 g"
tolerance = "2 %"
lot = "CC-31"
[[ingredient]]
name = "bath water"
phase = "bath"
substance = "water"
mass = "972 g"
tolerance = "1 %"
[[ingredient]]
name = "cocoa butter"
phase = "fat"
fat = "cocoa_butter"
mass = "180 g"
[[stage]]
id = "in"
kind = "weigh"
"""


class Scale(Person):
    """A scale that shows 0.1 g ten times a second, and what was weighed in on it."""

    def __init__(self, sheet=SHEET, *, flags=False):
        super().__init__(sheet, rate_hz=10, flags=flags)

    @property
    def rows(self):
        return {r.ingredient: r for r in self.engine.results().weighings}

    @property
    def view_state(self):
        return self.engine.state(round(self.t_s * S))

    @property
    def proposals(self):
        return [p for p in self.view_state.proposals if p.what == "ingredient"]

    def found(self):
        return {f.check: f for f in self.end()}


@pytest.mark.parametrize("flags", [True, False], ids=["net flag", "no flags"])
def test_each_ingredient_is_taken_at_its_tare(flags):
    scale = Scale(flags=flags).wait()
    scale.put(300.0).tare()
    scale.put(28.1).tare().put(970.0).tare().put(180.0)
    found = scale.found()
    assert scale.rows["calcium chloride"].mass_g == pytest.approx(28.1, abs=0.15)
    assert scale.rows["bath water"].mass_g == pytest.approx(970.0, abs=0.15)
    assert scale.rows["cocoa butter"].mass_g == pytest.approx(180.0, abs=0.15)
    assert found["mass of bath water"].verdict == "met"
    assert "(target 962.28 to 981.72 g)" in found["mass of bath water"].evidence


@pytest.mark.parametrize("flags", [True, False], ids=["net flag", "no flags"])
def test_a_zero_key_pressed_before_the_scale_was_at_rest_weighs_nothing_wrong(flags):
    scale = Scale(flags=flags).wait()
    scale.tare_g = 0.9  # pressed while the pan still came up: it now rests at -0.9 g
    scale.wait().put(300.0).tare().put(28.0).do("mark").wait()
    assert scale.rows["calcium chloride"].mass_g == pytest.approx(28.0, abs=0.15)


def test_one_bowl_without_a_tare_goes_on_by_marks():
    scale = Scale().put(300.0).do("mark").wait()
    scale.put(28.0).do("mark").wait().put(972.0).do("mark").wait().put(183.0).do("mark").wait()
    assert [round(r.mass_g) for r in scale.rows.values()] == [28, 972, 183]
    assert scale.view.say == "Everything is weighed in"


def to_taste(*names):
    head, _, rest = SHEET.partition("[[ingredient]]")
    rows = [f'[[ingredient]]\nname = "{n}"\nphase = "fat"\namount = "to taste"\n' for n in names]
    scale = Scale(f"{head}{''.join(rows)}[[ingredient]]{rest}").wait()
    return scale.put(28.0).put(972.0).put(180.0).do("mark").wait()


def taste_asked(scale):
    return [p for p in scale.view_state.proposals if p.what == "to_taste"]


def test_what_is_to_taste_is_asked_once_all_is_weighed_in_noted_and_never_judged():
    scale = to_taste("marjoram", "salt")
    before = {name: row.mass_g for name, row in scale.rows.items()}
    asks = "Now to taste: marjoram, salt, on the scale, or write a note of how much"
    assert scale.view.say == f"Everything is weighed in. {asks}"
    assert "is noted, not judged" in scale.view.more[-1]
    assert taste_asked(scale) == []
    scale.put(2.3).wait(4.0)
    (asked,) = taste_asked(scale)
    assert asked.text == "Was this the marjoram, to taste? 2.3 ± 0.4 g"
    assert scale.proposals == []
    scale.do("decline", proposal=asked.id).wait(2.0)
    (asked,) = taste_asked(scale)
    assert asked.text.startswith("Was this the salt")
    scale.do("accept", proposal=asked.id).wait(3.0)
    assert taste_asked(scale) == scale.proposals == []
    assert "Now to taste: marjoram," in scale.view.say
    scale.do("set_value", name="mass_g.marjoram", value=0.4).wait(2.0)
    assert scale.view.say == "Everything is weighed in"
    notes = [note.text for note in scale.engine.results().notes]
    assert notes == ["salt, to taste: 2.3 ± 0.4 g", "marjoram, to taste: 0.4 g"]
    found = scale.found()
    assert {name: row.mass_g for name, row in scale.rows.items()} == before
    plain = Scale().wait().put(28.0).put(972.0).put(180.0).do("mark").wait().found()
    for name in before:
        assert found[f"mass of {name}"].verdict == plain[f"mass of {name}"].verdict
    assert not [check for check in found if "marjoram" in check or "salt" in check]


def test_a_load_that_was_nothing_to_taste_is_left_to_the_weighing():
    scale = to_taste("marjoram").put(500.0).wait(4.0)
    (asked,) = taste_asked(scale)
    scale.do("decline", proposal=asked.id).wait(3.0)
    assert taste_asked(scale) == []
    assert scale.engine.results().notes == []
    scale.put(-500.0).wait(3.0)
    assert taste_asked(scale) == []
    assert scale.view.say.startswith("Everything is weighed in. Now to taste: marjoram")


def test_with_a_tolerance_the_next_one_may_simply_be_poured_on():
    scale = Scale().wait().put(28.0).put(972.0).put(180.0).do("mark").wait()
    assert [round(r.mass_g) for r in scale.rows.values()] == [28, 972, 180]


def test_topping_up_within_the_tolerance_stays_with_the_same_ingredient():
    scale = Scale().wait().put(24.0).put(3.6).put(0.4).do("mark").wait()
    assert [round(r.mass_g, 1) for r in scale.rows.values()] == [28.0]


def test_a_mark_on_a_moving_scale_counts_once_it_rests():
    scale = Scale().wait().put(28.0, seconds=0.0).do("mark")
    assert scale.rows == {}
    scale.wait()
    assert list(scale.rows) == ["calcium chloride"]


def test_a_mark_can_be_taken_back():
    scale = Scale().wait().put(20.0).do("mark").wait(1.0)
    assert list(scale.rows) == ["calcium chloride"]
    scale.do("undo")
    assert scale.rows == {}
    scale.put(8.0).do("mark").wait()
    assert scale.rows["calcium chloride"].mass_g == pytest.approx(28.0, abs=0.15)


def test_the_scale_decides_with_its_own_uncertainty():
    """A class II scale with e = 0.1 g: permitted error at 28 g is 0.5 e, in service e (OIML R 76).

    28 g within 2 % is 27.44 to 28.56 g: 28.4 g is too near the edge for such a scale.
    """
    scale = Scale().wait().put(28.4).do("mark").wait()
    found = scale.found()["mass of calcium chloride"]
    assert found.verdict == "undecided"
    assert found.expanded_uncertainty > 0.1
    right = Scale().wait().put(28.0).do("mark").wait().found()["mass of calcium chloride"]
    assert right.verdict == "met"


def test_too_much_of_one_says_what_would_keep_its_phase():
    scale = Scale().wait().put(30.8)
    assert scale.view.tone == "warn"
    assert "2.80 g too much" in scale.view.say
    [advice] = [m for m in scale.view.more if m.startswith("Too much")]
    assert "1069.2 g bath water" in advice
    scale.do("mark").wait()
    found = scale.found()["mass of calcium chloride"]
    assert found.verdict == "not met"


def test_spooning_some_out_again_mends_it():
    scale = Scale().wait().put(30.8).put(-2.8).do("mark").wait()
    assert scale.rows["calcium chloride"].mass_g == pytest.approx(28.0, abs=0.15)


def test_shares_run_along_without_crystal_water():
    """28 g of dihydrate in 1000 g: 2.114 % anhydrous (110.984 / 147.014)."""
    scale = Scale().wait().put(28.0).do("mark").wait().put(972.0).do("mark").wait()
    [line] = [m for m in scale.view.more if "calcium chloride" in m]
    assert "2.11 %" in line
    assert "without crystal water" in line
    assert "so far" not in line
    values = scale.engine.results().values
    assert values["share_percent.calcium chloride"] == pytest.approx(2.114, abs=0.01)


def test_the_lot_is_recorded():
    scale = Scale().wait().put(28.0).do("mark").wait()
    assert scale.rows["calcium chloride"].lot == "CC-31"


def test_what_was_not_weighed_in_is_not_measured():
    found = Scale().wait().put(28.0).do("mark").wait().found()
    assert found["mass of bath water"].verdict == "not measured"
    assert "not weighed in" in found["mass of bath water"].evidence


def test_a_mass_typed_by_hand_has_no_verdict():
    scale = Scale().wait().do("set_value", name="mass_g.bath water", value=970.0)
    found = scale.found()["mass of bath water"]
    assert (found.verdict, found.value) == ("undecided", 970.0)
    assert "typed by hand" in found.evidence
    assert math.isclose(scale.rows["bath water"].mass_g, 970.0)


def test_without_a_tolerance_the_mass_is_recorded_and_not_judged():
    sheet = SHEET.replace('kind = "weigh"', 'kind = "weigh"\ningredients = ["cocoa butter"]')
    found = Scale(sheet).wait().put(180.0).do("mark").wait().found()["mass of cocoa butter"]
    assert (found.verdict, round(found.value)) == ("undecided", 180)
    assert "sets no limit" in found.evidence


def test_an_ingredient_that_the_sheet_does_not_list_is_told():
    sheet = SHEET.replace('kind = "weigh"', 'kind = "weigh"\ningredients = ["saffron"]')
    found = Scale(sheet).wait().found()["mass of saffron"]
    assert found.verdict == "not measured"
    assert "lists no such ingredient" in found.evidence

"""What one change of level may have been, and which of it is likelier."""

import math

import pytest

from logger.watch.stages.weigh import likelihood as lk
from logger.watch.stages.weigh.hypotheses import GATE, TransitionModel
from logger.watch.stages.weigh.states import NONE, Change, Hypothesis, Wanted

WANTED = [Wanted(name=n, target_g=g, aimed_sd_g=max(0.15, 0.007 * g))
          for n, g in (("fat", 180.0), ("stock", 330.0), ("salt", 6.0))]  # fmt: skip
EMPTY = Hypothesis(masses_g=(0.0, 0.0, 0.0), pan="vessel", empty_g=-200.0, fresh=True)


def model(**more):
    found = TransitionModel(WANTED, (200.0,))
    found.by_hand |= set(more.get("by_hand", ()))
    found.answers |= more.get("answers", {})
    found.begin()
    return found


def change(from_g, to_g, **more):
    return Change(**({"first": 0, "last": 1, "from_g": from_g, "to_g": to_g, "instant": False}
                     | more))  # fmt: skip


def best(hypothesis, what, **more):
    """What the likeliest explanation of a change is, and its ingredient."""
    asked = model(**more)
    found = list(asked.transitions(hypothesis, what))
    top = max(found, key=asked.weight)
    return top.acts.what, top.acts.ingredient, top


def put(hypothesis, mass_g, **more):
    return best(hypothesis, change(0.0, mass_g), **more)


@pytest.mark.parametrize(
    ("mass_g", "what", "ingredient"),
    [(180.0, "add", 0), (330.0, "add", 1), (6.0, "add", 2), (200.0, "add", 0)],
)
def test_what_weighs_as_an_ingredient_is_it_in_a_vessel(mass_g, what, ingredient):
    assert put(EMPTY, mass_g)[:2] == (what, ingredient)


def test_on_a_bare_scale_the_vessel_that_the_sheet_knows_is_one():
    bare = Hypothesis(masses_g=(0.0, 0.0, 0.0), pan="empty", empty_g=0.0)
    what, _, found = put(bare, 200.0)
    assert (what, found.pan, found.vessel_g, found.fresh) == ("vessel", "vessel", 200.0, True)
    assert put(bare, 180.0)[:2] == ("add", 0)
    assert put(bare, 180.0)[2].pan == "food"


def test_a_mass_that_was_typed_is_out_of_turn():
    turns = model(by_hand=[0])._turns(EMPTY)
    assert turns[1] > turns[2] > turns[0]
    free = model()._turns(EMPTY)
    assert free[0] > free[1] == free[2]


def test_turns_are_probabilities():
    for masses_g, current in (((0.0,) * 3, NONE), ((180.0, 0.0, 0.0), 0), ((0.0, 330.0, 0.0), 1)):
        h = EMPTY._replace(masses_g=masses_g, current=current)
        turns = [math.exp(t) for t in model()._turns(h)]
        assert 0.8 < sum(turns) <= 1.0 + 1e-9, masses_g
    after = model()._turns(EMPTY._replace(masses_g=(0.0, 330.0, 0.0), current=1))
    assert after[0] == after[2] > after[1], "the first left, or the next one on"


def test_who_goes_out_of_turn_once_may_again():
    once = EMPTY._replace(in_turn=(0, 3))
    assert model()._turns(once)[2] > model()._turns(EMPTY)[2]


def test_counts_tell_turns_and_signals_of_new_ingredients_alone():
    asked = model()
    assert asked._counts(EMPTY, 0) == ((1, 0), (0, 0))
    assert asked._counts(EMPTY, 2) == ((0, 1), (0, 0))
    begun = EMPTY._replace(masses_g=(180.0, 0.0, 0.0), current=0)
    assert asked._counts(begun, 0) == ((0, 0), (0, 0))
    assert asked._counts(begun, 1) == ((1, 0), (0, 1))
    assert asked._counts(begun._replace(signal=True), 1) == ((1, 0), (1, 0))
    assert asked._counts(begun._replace(after_vessel=True), 1) == ((1, 0), (0, 0))
    last = EMPTY._replace(masses_g=(180.0, 330.0, 0.0), current=1)
    assert asked._counts(last, 2)[0] == (0, 0), "the only one left is no sign of order"


def test_a_tare_leaves_the_load_and_shifts_what_empty_shows():
    loaded = EMPTY._replace(masses_g=(180.0, 0.0, 0.0), current=0, fresh=False)
    what, _, found = best(loaded, change(180.0, 0.0, instant=True))
    assert (what, found.signal, found.empty_g) == ("tare", True, -380.0)
    assert found.masses_g == (180.0, 0.0, 0.0)
    told = list(model().transitions(loaded, change(180.0, 0.0, tared=True)))
    assert [(t.acts.what, t.log_weight) for t in told] == [("tare", 0.0)]
    bare = Hypothesis(masses_g=(0.0,) * 3, pan="empty", empty_g=0.4)
    assert best(bare, change(0.4, 0.0, instant=True))[2].empty_g == 0.0


def test_taking_all_off_shows_what_empty_shows():
    loaded = EMPTY._replace(masses_g=(180.0, 0.0, 0.0), current=0, fresh=False)
    what, _, found = best(loaded, change(180.0, -200.0))
    assert (what, found.pan, found.empty_g, found.signal) == ("off", "empty", -200.0, True)
    bare = Hypothesis(masses_g=(0.0,) * 3, pan="empty", empty_g=0.0)
    fell = model().transitions(bare, change(0.0, -50.0))
    assert "off" not in {t.acts.what for t in fell}


def test_a_spoonful_taken_out_is_of_the_ingredient_under_way_and_not_most_of_it():
    loaded = EMPTY._replace(masses_g=(190.0, 0.0, 0.0), current=0, fresh=False)
    what, ingredient, found = best(loaded, change(190.0, 180.0))
    assert (what, ingredient, found.masses_g[0]) == ("out", 0, 180.0)
    most = {t.acts.what for t in model().transitions(loaded, change(190.0, 38.0))}
    more = {t.acts.what for t in model().transitions(loaded, change(190.0, 37.0))}
    assert "out" in most
    assert "out" not in more, "more than four fifths is another act"


def test_out_of_a_jar_on_the_scale_a_fall_is_an_ingredient():
    jar = EMPTY._replace(fresh=True)
    what, ingredient, found = best(jar, change(0.0, -6.0))
    assert (what, ingredient, found.from_jar, found.fresh) == ("add", 2, True, True)
    used = jar._replace(fresh=False)
    weight = []
    for h in (used, jar):
        asked = model()
        adds = [t for t in asked.transitions(h, change(0.0, -6.0)) if t.acts.what == "add"]
        weight.append(max(map(asked.weight, adds)))
    assert weight[1] - weight[0] == pytest.approx(
        lk.LOG_PRIOR_FROM_JAR_FRESH - lk.LOG_PRIOR_FROM_JAR
    )
    back = found._replace(masses_g=(0.0, 0.0, 7.0))
    assert best(back, change(-7.0, -6.0))[0] == "out"


def test_more_of_an_ingredient_is_likelier_than_another_that_fits_less():
    begun = EMPTY._replace(masses_g=(100.0, 0.0, 0.0), current=0, fresh=False)
    what, ingredient, found = put(begun, 80.0)
    assert (what, ingredient, found.masses_g[0]) == ("add", 0, 180.0)
    marked = model().marked(EMPTY._replace(masses_g=(180.0, 0.0, 0.0), current=0))
    assert marked.signal is True
    assert model().marked(marked) is marked
    assert put(marked._replace(fresh=False), 330.0)[:2] == ("add", 1)


def test_what_the_operator_said_wins():
    assert put(EMPTY, 180.0, answers={1: [(0, False)]})[1] != 0
    assert put(EMPTY, 250.0, answers={1: [(0, True)]})[:2] == ("add", 0)
    assert put(EMPTY, 250.0, answers={1: [(1, True)]})[:2] == ("add", 1)
    assert put(EMPTY, 180.0, answers={1: [(2, True)]})[:2] == ("add", 2), "however unlikely"


def test_a_nudge_is_nothing_and_a_step_of_half_the_display_is_no_load():
    acts = {t.acts.what for t in model().transitions(EMPTY, change(0.0, 0.04))}
    assert acts == {"tare", "nothing"}
    wide = {t.acts.what for t in model().transitions(EMPTY, change(5.0, 6.1))}
    assert "nothing" not in wide
    near = {t.acts.what for t in model().transitions(EMPTY, change(5.0, 6.0))}
    assert "nothing" in near


def test_a_bowl_lifted_and_set_back_is_no_touch_by_chance():
    loaded = EMPTY._replace(masses_g=(180.0, 0.0, 0.0), current=0, fresh=False)
    lifted = change(180.0, 180.0, last=2, between_g=-200.0, between_s=3.0)
    pressed = change(180.0, 180.0, last=2, between_g=-90.0, between_s=3.0)
    weight = [best(loaded, each)[2].log_weight for each in (lifted, pressed)]
    assert weight[0] > weight[1]
    longer = change(180.0, 180.0, last=2, between_g=-90.0, between_s=13.0)
    assert best(loaded, longer)[2].log_weight == pytest.approx(
        weight[1] + 10.0 * lk.LOG_PENALTY_TOUCH_S
    )


def test_a_bowl_set_back_and_tared_before_the_scale_rests_has_lost_nothing():
    loaded = EMPTY._replace(masses_g=(0.0, 330.0, 0.0), current=1, fresh=False, empty_g=-500.0)
    back = {"last": 2, "between_g": -500.0, "between_s": 3.0}
    assert best(loaded, change(330.0, 329.7, hasty=True, **back))[0] == "nothing"
    assert best(loaded, change(330.0, 328.5, **back))[0] == "out"
    assert best(loaded, change(330.0, 328.5, **back), answers={2: [(1, True)]})[0] == "out", "of it"


def test_in_a_gap_anything_may_have_come():
    hidden = {t.acts.what for t in model().transitions(EMPTY, change(0.0, 90.0, in_gap=True))}
    assert "foreign" in hidden
    inside, outside, gap = (
        max(t.log_weight for t in model().transitions(EMPTY, change(0.0, 90.0, **more))
            if t.acts.what == "foreign")
        for more in ({}, {"outside": True}, {"in_gap": True})
    )  # fmt: skip
    assert gap > outside > inside


def test_a_known_shift_of_the_display_is_no_load():
    shifted = EMPTY._replace(masses_g=(180.0, 0.0, 0.0), current=0, fresh=False)
    found = best(shifted, change(180.0, 680.0, shift_g=500.0))[2]
    assert (found.acts.what, found.empty_g) == ("nothing", 300.0)


def test_a_display_that_jumps_was_tared_and_one_that_does_not_was_poured_on():
    loaded = EMPTY._replace(masses_g=(180.0, 0.0, 0.0), current=0, fresh=False)

    def tare(instant):
        found = model().transitions(loaded, change(180.0, 0.0, instant=instant))
        return next(t.log_weight for t in found if t.acts.what == "tare")

    assert tare(None) > tare(True) > tare(False)
    assert tare(True) - tare(None) == pytest.approx(math.log(0.9))


def test_what_is_far_less_likely_is_not_kept():
    asked = model()
    kept = [t for t in asked.transitions(EMPTY, change(0.0, 180.0)) if t.acts.what == "add"]
    weights = [asked.weight(t) for t in kept]
    assert min(weights) >= max(weights) - GATE
    assert {t.acts.ingredient for t in kept} == {0, 1}

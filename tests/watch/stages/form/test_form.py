"""Pieces registered on the bench scale, one by one."""

import random

import pytest

from logger.model.reading import Flag, Reading
from logger.watch.stages.form.watcher import make
from tests.watch.bench_person import Person

SHEET = """
[sheet]
name = "Smoked beet and barley roll"
decision_rule = "simple"
[[stage]]
id = "shape"
kind = "form"
pieces = 3
"""
MASS = 'mass = { low = "52 g", high = "82 g" }\n'
SHAPE = 'piece = { body = "cylinder", diameter = "26 mm", length = "130 mm" }\n'
THREE = (62.0, 73.4, 57.4)


def masses(person):
    return [round(r.bare_mass_g, 1) for r in person.pieces.values()]


@pytest.mark.parametrize("known", [MASS, SHAPE, ""], ids=["band", "shape", "nothing known"])
@pytest.mark.parametrize("step_g", [0.01, 0.1])
def test_each_piece_put_on_the_tared_tray_is_registered(known, step_g):
    person = Person(SHEET + known, step_g=step_g, flags=True).wait()
    person.put(146.0).tare().weigh(*THREE)
    assert masses(person) == pytest.approx(list(THREE), abs=0.11)
    told = [e.data["piece"] for e in person.said if e.kind == "piece_registered"]
    assert told[-3:] == [1, 2, 3] if known else told[-1] == 3
    assert "All 3 pieces are weighed" in person.view.say


def test_a_tare_the_scale_tells_makes_a_first_load_a_tray():
    person = Person(SHEET).wait().put(146.0).do("tare").tare().weigh(*THREE)
    assert masses(person) == pytest.approx(list(THREE), abs=0.11)


@pytest.mark.parametrize("known", [MASS, ""], ids=["band", "nothing known"])
def test_pieces_left_on_a_tray_that_is_not_tared_count_one_by_one(known):
    person = Person(SHEET + known).wait().put(146.0)
    for mass_g in THREE:
        person.put(mass_g)
    assert masses(person) == pytest.approx(list(THREE), abs=0.21)


def test_a_tare_after_each_piece_counts_each_once():
    person = Person(SHEET + MASS).wait()
    for mass_g in THREE:
        person.put(mass_g).tare()
    person.put(-sum(THREE))
    assert masses(person) == pytest.approx(list(THREE), abs=0.21)


def test_a_hand_resting_on_the_piece_is_put_right():
    person = Person(SHEET + MASS).wait().put(80.0, seconds=3.0).put(-18.0).put(-62.0)
    assert masses(person) == pytest.approx([62.0], abs=0.11)
    told = [e.text for e in person.said if e.kind == "piece_registered"]
    assert [text.endswith(", again") for text in told] == [False, True]


def test_a_spoon_and_a_touch_are_no_pieces():
    person = Person(SHEET + MASS).wait().weigh(12.0).put(60.0, seconds=0.4, over_s=0.2)
    person.put(-60.0, over_s=0.2)
    assert masses(person) == []
    found = person.end()
    assert [(f.check, f.verdict) for f in found] == [("pieces weighed", "not measured")]


def test_a_piece_out_of_its_band_is_told_at_once_and_found():
    person = Person(SHEET + MASS).wait().put(49.0)
    assert "target 52 to 82 g" in person.view.say
    assert person.view.tone == "warn"
    found = {(f.check, f.piece): f for f in person.put(-49.0).weigh(70.0).end()}
    assert found["piece mass", 1].verdict == "not met"
    assert found["piece mass", 2].verdict == "met"
    assert found["pieces weighed", None].verdict == "not measured"
    assert "1 of 3" in found["pieces weighed", None].evidence


def test_a_mass_typed_by_hand_stands_without_a_scale_and_has_no_verdict():
    person = Person(SHEET + MASS, roles=False).do("register_piece", piece=2, mass_g=71.0)
    assert masses(person) == [71.0]
    found = {(f.check, f.piece): f.verdict for f in person.end()}
    assert found["piece mass", 2] == "undecided"


def test_a_registration_by_hand_is_taken_back_by_undo():
    person = Person(SHEET + MASS).wait().weigh(62.0).do("register_piece", piece=1, mass_g=70.0)
    assert masses(person) == [70.0]
    person.do("undo")
    assert masses(person) == pytest.approx([62.0], abs=0.11)


def test_spread_over_the_batch_is_told():
    person = Person(SHEET + MASS, step_g=0.01).wait().weigh(60.0, 70.0, 80.0)
    assert "3 pieces, 70.0 g on average, 60.0 to 80.0 g." in person.view.more
    person.end()
    spread = person.engine.results().values["piece_mass_spread_percent"]
    assert spread == pytest.approx(100.0 * 10.0 / 70.0, rel=0.01)


@pytest.mark.parametrize("size", [1, 7, 333])
def test_where_the_stream_is_cut_does_not_matter(size):
    person = Person(SHEET + MASS).wait().put(146.0).tare().weigh(62.0, 73.4)
    assert person.same_in_pieces(size)


@pytest.mark.parametrize("seed", range(20))
def test_a_short_rest_flagged_stable_is_enough_however_the_last_digit_flickers(make_context, seed):
    """Half a second of zero between two pieces, values that are hardly ever twice the same."""
    rng, watcher = random.Random(seed), make(make_context("shape", sheet=SHEET + MASS))
    loads = [(2.0, 0.0), *((t, m) for mass_g in THREE for t, m in ((2.2, mass_g), (0.6, 0.0)))]
    t_s = 0.0
    for lasts_s, load_g in loads:
        for k in range(round(lasts_s * 5)):
            stable = Flag.STABLE if k >= 2 else Flag.UNSTABLE
            shown_g = round(load_g + rng.choice((-0.01, 0.0, 0.01)) + 0.01 * (k % 2), 2)
            watcher.reading(Reading("bench_scale", round(t_s * 1e9), shown_g, 0.01, int(stable)))
            t_s += 0.2
    weighed = [round(mass_g, 1) for mass_g, _, _ in watcher.weighed.values()]
    assert weighed == pytest.approx(list(THREE), abs=0.11)


@pytest.mark.parametrize(
    ("mass_g", "a_piece"), [(23.0, False), (25.0, True), (131.0, True), (133.0, False)]
)
def test_after_two_pieces_of_60_g_one_weighs_between_24_and_132_g(mass_g, a_piece):
    """0.4 to 2.2 times the middle one, where the sheet says nothing: common practice, no source."""
    person = Person(SHEET).wait().put(146.0).do("tare").tare().weigh(60.0, 60.0, mass_g)
    assert len(masses(person)) == (3 if a_piece else 2)

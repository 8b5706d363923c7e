"""Pours as clumsy hands make them: by ladle, in goes, with the bowl lifted, the scale unplugged.

The whole table is ``python -m tests.bench hands``; its seeds were not used to develop anything.
"""

from itertools import pairwise

import numpy as np
import pytest

from logger.watch.scale.pour import PourDetector
from logger.watch.scale.pour_hands import Plan
from tests.bench.figures.hand_pours import HABITS
from tests.bench.figures.hands_pours import FIRST_SEED, mass_score

PLAN = Plan(there_g=180.0, into_g=330.0)


def watched(bowl_g, *, plan=PLAN, from_s=0.0, to_s=300.0, silent=(0.0, 0.0), gives=False):
    """Watch a scale that shows ``bowl_g(t)`` at 10 Hz; return the detector at the stage's end."""
    detector = PourDetector(step_g=0.1, plan=plan, from_s=from_s, gives=gives)
    noise = np.random.default_rng(7)
    for k in range(round(to_s * 10)):
        t = k / 10.0
        if k % 10 == 0 and k:
            detector.look(t)
        if not silent[0] <= t < silent[1]:
            detector.add(t, round(bowl_g(t) + noise.normal(0.0, 0.04), 1))
    detector.look(to_s)
    detector.finish(to_s)
    return detector


def ramp(t, from_s, to_s, mass_g):
    return float(np.clip((t - from_s) / (to_s - from_s), 0.0, 1.0)) * mass_g


def step(t, at_s, mass_g):
    return ramp(t, at_s, at_s + 0.6, mass_g)


def ladled(t):
    """12 x 15 g, one every 9 s from 40 s on."""
    return 700.0 + sum(step(t, 40.0 + 9.0 * n, 15.0) for n in range(12))


def test_fat_by_ladle_is_one_pour_in_portions_and_has_no_rate():
    detector = watched(ladled)
    (pour,) = detector.pours
    assert pour.mass_g == pytest.approx(180.0, abs=1.0)
    assert pour.portions == 12
    assert pour.rate_g_per_min is None
    assert detector.asked(300.0) == []


def test_a_pour_with_a_pause_of_25_s_is_one_pour_of_all_of_it():
    detector = watched(lambda t: 700.0 + ramp(t, 40, 110, 104.0) + ramp(t, 135, 180, 71.0))
    (pour,) = detector.pours
    assert pour.mass_g == pytest.approx(175.0, abs=1.0)
    assert pour.portions == 2
    assert pour.rate_g_per_min == pytest.approx(60.0 * 175.0 / 115.0, rel=0.03)


def test_a_silent_scale_hides_no_mass_of_what_flows_on():
    detector = watched(lambda t: 700.0 + ramp(t, 40, 160, 180.0), silent=(90.0, 115.0))
    assert detector.poured_g == pytest.approx(180.0, abs=1.0)
    assert detector.asked(300.0) == []
    assert detector.pours[0].u_mass_g > 1.0


def test_a_bowl_lifted_and_put_back_between_two_portions_is_no_pour():
    def bowl(t):
        on = 700.0 + ramp(t, 40, 90, 90.0) + ramp(t, 150, 200, 90.0)
        return on - step(t, 110, 790.0) + ramp(t, 125, 127.5, 790.0)

    detector = watched(bowl)
    assert detector.poured_g == pytest.approx(180.0, abs=1.0)
    assert detector.asked(300.0) == []


def test_what_came_while_the_bowl_was_lifted_is_asked_and_the_answer_counts():
    def bowl(t):
        on = 700.0 + ramp(t, 40, 90, 90.0) + ramp(t, 150, 200, 70.0)
        return on - step(t, 110, 790.0) + step(t, 125, 802.0)

    detector = watched(bowl)
    (part,) = detector.asked(300.0)
    assert part.by_g == pytest.approx(12.0, abs=0.5)
    for answer, poured_g in ((True, 172.0), (False, 160.0)):
        detector.answers = {part.key: answer}
        detector.finish(300.0 + answer)
        assert detector.asked(300.0) == []
        assert detector.poured_g == pytest.approx(poured_g, abs=1.0)


def test_the_other_phase_that_came_first_is_not_counted_as_poured():
    plan = Plan(there_g=160.0, into_g=301.0)
    detector = watched(
        lambda t: 400.0 + ramp(t, 30, 80, 301.0) + ramp(t, 110, 200, 160.0), plan=plan
    )
    assert detector.poured_g == pytest.approx(160.0, abs=1.0)
    assert detector.other_phase_g == pytest.approx(301.0, abs=1.0)


def test_a_pour_begun_before_its_stage_is_whole():
    detector = watched(lambda t: 700.0 + ramp(t, 40, 100, 180.0), from_s=60.0)
    (pour,) = detector.pours
    assert pour.mass_g == pytest.approx(180.0, abs=1.0)
    assert pour.start_s == pytest.approx(40.0, abs=1.0)


def test_what_was_over_long_before_the_stage_is_none_of_it():
    detector = watched(
        lambda t: 400.0 + ramp(t, 20, 60, 330.0) + ramp(t, 150, 240, 178.0), from_s=130.0
    )
    assert detector.poured_g == pytest.approx(178.0, abs=1.0)


def test_one_load_at_once_is_told_and_asked_not_passed_over():
    detector = watched(lambda t: 700.0 + step(t, 80, 12.0))
    assert detector.poured_g == pytest.approx(12.0, abs=0.5)
    assert [part.by_g for part in detector.asked(300.0)] == [pytest.approx(12.0, abs=0.5)]


def test_a_pan_that_gives_is_lifted_poured_from_and_put_back():
    def pan(t):
        return 900.0 - step(t, 60, 900.0) + step(t, 120, 725.0)

    detector = watched(pan, gives=True)
    assert detector.poured_g == pytest.approx(175.0, abs=1.0)


def test_over_seeded_hands_of_all_habits_masses_are_right_and_none_is_passed_over():
    """A pour of each habit; an ingredient like a scoop of the ladle can't be told from it."""
    scores = [mass_score(seed) for seed in range(FIRST_SEED, FIRST_SEED + len(HABITS))]
    assert not any(score.unseen for score in scores)
    told = [score.right for score in scores if not score.asked]
    assert sum(told) >= 0.95 * len(told)
    assert sum(score.answered_right for score in scores) >= 0.9 * len(scores)


def test_a_little_ingredient_between_two_pours_is_asked_where_there_is_just_so_much_too_much():
    """180 g there; 90 g and 89 g are poured, and 5 g put in within 1.5 s after a rest of 10 s."""

    def bowl(t):
        return ramp(t, 30.0, 90.0, 90.0) + ramp(t, 100.0, 101.5, 5.0) + ramp(t, 115.0, 175.0, 89.0)

    detector = watched(bowl)
    (asked,) = detector.asked(300.0)
    assert asked.by_g == pytest.approx(5.0, abs=0.3)
    assert detector.poured_g == pytest.approx(179.0, abs=0.5)


@pytest.mark.parametrize("taste_g", [10.0, 20.0])
def test_a_taste_after_a_scoop_is_no_push_that_came_with_it(taste_g):
    """The last scoop holds 14 g: less than the taste, or more."""

    def bowl(t):
        scoops = sum(step(t, 40.0 + 12.0 * n, 15.0) for n in range(3))
        return 700.0 + scoops + step(t, 80.0, 14.0) - step(t, 95.0, taste_g)

    detector = watched(bowl, to_s=150.0)
    assert detector.poured_g == pytest.approx(59.0, abs=1.0)


def test_a_bowl_that_is_held_up_and_let_down_slowly_is_no_pour():
    def bowl(t):
        return 700.0 + ramp(t, 40, 140, 120.0) - step(t, 160.0, 17.0) + ramp(t, 163.0, 168.0, 17.0)

    detector = watched(bowl, to_s=220.0)
    assert detector.poured_g == pytest.approx(120.0, abs=1.0)


def test_a_last_drop_40_s_after_a_pour_that_is_seen_for_certain_belongs_to_it():
    detector = watched(lambda t: 700.0 + ramp(t, 40, 140, 120.0) + step(t, 180.0, 2.5), to_s=240.0)
    assert detector.poured_g == pytest.approx(122.5, abs=0.5)


@pytest.mark.parametrize(("bowl_g", "stands_s", "away_s"), [(330.0, 8.0, 4.0), (700.0, 14.0, 9.0)])
def test_what_flows_into_the_standing_bowl_between_two_lifts_is_poured(bowl_g, stands_s, away_s):
    """40 g seen, 100 g in a lift, 40 g seen, half a second later 50 g in another lift."""
    first_s, flow_s = 43.0, 43.0 + away_s + stands_s
    again_s = flow_s + 6.9

    def bowl(t):
        on = bowl_g + ramp(t, 30, 36, 40.0) + ramp(t, flow_s, flow_s + 6.4, 40.0)
        away = first_s <= t < first_s + away_s or again_s <= t < again_s + away_s
        lifted_g = (100.0 if t >= first_s else 0.0) + (50.0 if t >= again_s else 0.0)
        return 0.0 if away else on + lifted_g

    plan = Plan(there_g=250.0, into_g=bowl_g)
    detector = PourDetector(step_g=0.1, plan=plan)
    told_g, asked = [], []
    for k in range(1200):
        detector.add(k / 10.0, round(bowl(k / 10.0), 1))
        if k % 10 == 9:
            detector.look((k + 1) / 10.0)
            told_g.append(detector.poured_g)
            asked.append({part.key for part in detector.asked((k + 1) / 10.0)})
    assert min(np.diff(told_g)) > -2.0
    assert all(before <= after for before, after in pairwise(asked))
    assert [p.by_g for p in detector.asked(120.0)] == pytest.approx([100.0, 50.0], abs=2.0)
    detector.answers = {part.key: False for part in detector.asked(120.0)}
    detector.finish(120.0)
    assert detector.poured_g == pytest.approx(80.0, abs=2.0)  # half a second of it left unseen

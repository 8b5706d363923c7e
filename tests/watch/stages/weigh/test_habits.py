"""Weighings of every habit, with known truth: booked right, or asked; never judged wrongly."""

from collections import Counter

import pytest

from tests.watch.stages.weigh.habits import HABITS, session
from tests.watch.stages.weigh.scored import score

SEEDS = (1,)
"""`python -m tests.bench hands` has more."""


@pytest.mark.parametrize("habit", HABITS)
def test_each_ingredient_is_booked_right_or_asked_and_none_is_judged_wrongly(habit):
    count: Counter = Counter()
    for seed in SEEDS:
        count += score(session(seed, habit, small=True))[0]
    assert count["wrong"] == count["wrong verdict"] == count["tapped wrong verdict"] == 0
    every = sum(count[f"tapped {how}"] for how in ("right", "wrong", "asked", "missing"))
    assert count["tapped right"] >= every - 1

"""The floors, on a part of the traces of ``python -m tests.bench bath`` and on its own seeds."""

import pytest

from tests.bench.bath import (
    QUIET,
    Score,
    add,
    detect,
    first,
    rows_by_ruptures,
    score_all,
    second,
    speed_s,
)

SEEDS = range(5000, 5015)


@pytest.mark.slow
@pytest.mark.parametrize("source", [first, second])
def test_with_masses_and_plan_nearly_all_dwells_are_right_and_hardly_one_is_surely_wrong(source):
    score = score_all([source(seed) for seed in SEEDS], masses=True, planned=True)
    assert score.dwells > 75
    assert score.right / score.dwells >= 0.93  # 0.95 over the 200 traces of the table
    assert score.sure_wrong / score.dwells <= 0.02
    assert score.hidden == 0
    assert max(score.errors_s) < 4.0
    assert sorted(abs(e) for e in score.errors_s)[int(0.95 * len(score.errors_s))] <= 0.3


@pytest.mark.slow
@pytest.mark.parametrize("source", [first, second])
def test_without_masses_or_plan_most_dwells_are_right_and_the_rest_is_ambiguous(source):
    score = score_all([source(seed) for seed in SEEDS], masses=False, planned=False)
    assert score.right / score.dwells >= 0.82  # 0.85 over the 200 traces of the table
    assert score.sure_wrong / score.dwells <= 0.02


def test_traces_without_pieces_have_no_immersions():
    sessions = [first(seed, QUIET) for seed in SEEDS]
    sessions += [second(seed, distractors_only=True) for seed in SEEDS]
    assert [len(detect(s, masses=False, planned=False)) for s in sessions] == [0] * len(sessions)


@pytest.mark.parametrize(
    ("source", "seed"), [(second, 5004), (second, 5031), (first, 5006), (first, 5023)]
)
def test_with_masses_registered_what_is_poured_in_is_no_piece_either(source, seed):
    """150 g of water weigh like any of fifteen pairs of pieces."""
    options = {"distractors_only": True} if source is second else {"scene": QUIET}
    session = source(seed, **options)
    session.masses_g = {1: 62.0, 2: 68.5, 3: 71.0, 4: 75.5, 5: 80.0, 6: 84.0}
    session.planned_s = (150.0, 240.0)
    assert detect(session, masses=True, planned=True) == ()


def test_a_general_change_point_search_does_worse_on_the_same_traces():
    sessions = [source(seed) for seed in list(SEEDS)[:6] for source in (first, second)]
    ours = score_all(sessions, masses=True, planned=True)
    theirs = Score()
    for session in sessions:
        rows = rows_by_ruptures(session, masses=True, planned=True)
        add(theirs, session, rows, by_number=True)
    assert theirs.right / theirs.dwells > 0.4  # it is given a fair chance
    assert ours.right > 1.1 * theirs.right
    assert ours.sure_wrong < theirs.sure_wrong


def test_four_hours_find_all_their_pieces():
    """Speed is printed by the table; here only that the long trace comes out whole."""
    assert speed_s() > 0

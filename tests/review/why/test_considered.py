"""Every candidate is listed with the number that rules it out or leaves it open."""

import numpy as np

from logger.review.why.explain import explain
from logger.review.why.knowledge import builtin_knowledge
from tests.review.conftest import make

GOOD = [make(f"good {i}", seed=i) for i in range(8)]


def standing(run, good=GOOD):
    found = explain(run, good, builtin_knowledge())
    return found, {c.cause: c for c in found.considered}


def test_each_candidate_of_a_defect_is_listed_once_and_the_named_ones_with_their_score():
    run = make(
        "bad", seed=9, outcome="rejected", defects=("grainy",), changed={"fat_at_pour_c": 38.0}
    )
    found, by_id = standing(run)
    asked = {m.id for m in builtin_knowledge() if "grainy" in m.leads_to}
    assert asked <= by_id.keys()
    assert len(by_id) == len(found.considered)
    for cause in found.causes:
        assert by_id[cause.mechanism.id].score == round(cause.score, 3)
    first = by_id["fat_too_cool"]
    assert first.standing == "named"
    assert first.looked[0].of == "fat_at_pour_c"
    assert first.looked[0].value == 38.0
    assert "38" in first.why


def test_a_candidate_is_ruled_out_by_the_number_that_was_measured():
    run = make(
        "bad", seed=9, outcome="rejected", defects=("grainy",), changed={"fat_at_pour_c": 38.0}
    )
    _, by_id = standing(run)
    cold = by_id["water_too_cold"]
    assert cold.standing == "ruled out"
    assert cold.looked[0].of == "water_at_pour_c"
    assert cold.looked[0].strength == 0.0
    assert cold.looked[0].low < cold.looked[0].value < cold.looked[0].high
    assert "water" in cold.why


def test_a_candidate_whose_number_was_not_measured_stays_open():
    run = make("bad", seed=9, outcome="rejected", defects=("broken emulsion",),
               changed={"fat_at_pour_c": 38.0}, without=("water_at_pour_c",))  # fmt: skip
    _, by_id = standing(run)
    cold = by_id["water_too_cold"]
    assert cold.standing == "open"
    assert "the probe was not there" in cold.why


def test_a_candidate_is_ruled_out_only_by_a_telling_number_that_was_measured():
    rng = np.random.default_rng(1)
    names = list(GOOD[0].features)
    known = {m.id: m for m in builtin_knowledge()}
    for seed in range(10):
        gone = set(rng.choice(names, 12, replace=False).tolist())
        run = make(
            "bad", seed=seed, outcome="rejected", defects=("skin burst", "greasy"), without=gone
        )
        for one in standing(run)[1].values():
            signs = known[one.cause].shows
            telling = {s.of for s in signs if s.what == "feature" and not s.lesser}
            if one.standing == "ruled out" and telling:
                assert (telling & run.features.keys()) - gone, one


def test_an_accepted_run_has_no_candidates():
    assert standing(make("fine", seed=5))[1] == {}

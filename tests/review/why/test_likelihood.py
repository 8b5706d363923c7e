"""A score is the chance of a cause: priors, likelihood ratios and noisy-or, checked by hand."""

from dataclasses import replace

import pytest

from logger.review.why.answer import answer
from logger.review.why.explain import explain, witness_of
from logger.review.why.knowledge import builtin_knowledge
from logger.review.why.likelihood import (
    ANY,
    Likelihoods,
    Ratios,
    Shown,
    builtin_likelihoods,
    chances,
    with_own,
)
from tests.review.why.calibration import tenths

RATIOS = Ratios(strength=(0.0, 0.5, 1.0), shown=(-1.0, 1.0, 2.0), not_measured=0.0)
LEARNED = Likelihoods(
    compared=RATIOS,
    alone=RATIOS,
    priors={"greasy": {"a": 2.0}, ANY: {}},
    rate=0.4,
    rate_any=0.4,
    even=1.0,
    unknown=1.0,
    elsewhere=0.1,
)


def shown(strength, *leads_to):
    return Shown(strength=strength, leads_to=leads_to)


def test_noisy_or_by_hand():
    """Weights 3, 1 and 1 of 5: priors 0.24, 0.08, 0.08. Odds of a by 100, of b by 1/10; given that
    one of the three is there: p / (1 - (1 - pa)(1 - pb)(1 - pc))."""
    found = chances(
        {"a": shown(1.0, "greasy"), "b": shown(0.0, "greasy")},
        ["greasy"],
        LEARNED,
        compared=True,
    )
    odds_a, odds_b = 0.24 / 0.76 * 100.0, 0.08 / 0.92 / 10.0
    a, b, unknown = odds_a / (1.0 + odds_a), odds_b / (1.0 + odds_b), 0.08
    some = 1.0 - (1.0 - a) * (1.0 - b) * (1.0 - unknown)
    assert found == pytest.approx({"a": a / some, "b": b / some, ANY: unknown / some})


def test_two_causes_that_both_show_are_both_likely():
    found = chances(
        {"a": shown(1.0, "greasy"), "b": shown(1.0, "greasy")}, ["greasy"], LEARNED, compared=True
    )
    assert min(found["a"], found["b"]) > 0.85


def test_what_rules_others_out_makes_the_one_that_was_not_measured_likelier():
    def of_open(others):
        rows = {"open": shown(None, "greasy")}
        rows |= {str(n): shown(others, "greasy") for n in range(4)}
        return chances(rows, ["greasy"], LEARNED, compared=True)["open"]

    assert of_open(0.0) > of_open(None) > of_open(1.0)


def test_a_cause_that_leads_elsewhere_is_less_likely_than_one_that_leads_here():
    rows = {"a": shown(0.5, "greasy"), "b": shown(0.5)}
    found = chances(rows, ["greasy"], LEARNED, compared=True)
    assert found["b"] < found["a"]


def test_own_runs_whose_cause_was_found_raise_its_chance(make_run, good_runs):
    run = make_run("bad", outcome="rejected", defects=["skin too thin"])
    known = builtin_knowledge()

    def score(own):
        learned = with_own(builtin_likelihoods(), own)
        causes = explain(run, good_runs, known, learned).causes
        return next(c.score for c in causes if c.mechanism.id == "bath_exhausted")

    assert score([(("skin too thin",), "bath_exhausted")] * 10) > 1.5 * score([])
    assert score([(("skin too thin",), "hydrate_mistaken")] * 10) < score([])
    assert score([(("greasy",), "bath_exhausted")] * 10) == pytest.approx(score([]))


@pytest.mark.parametrize("compared", [False, True])
def test_the_learned_numbers_rise_with_the_strength_of_a_sign(compared):
    learned = builtin_likelihoods()
    ratios = learned.compared if compared else learned.alone
    assert ratios.strength[0] == 0.0
    assert ratios.strength[-1] == 1.0
    assert list(ratios.shown) == sorted(ratios.shown)
    assert ratios.shown[0] < 0.0 < ratios.shown[-1]
    scores = [
        chances({"a": shown(s / 20.0, "x")}, ["x"], learned, compared=compared)["a"]
        for s in range(21)
    ]
    assert scores == sorted(scores)


def test_the_learned_priors_are_of_causes_that_are_known():
    known = {m.id for m in builtin_knowledge()}
    for counted in builtin_likelihoods().priors.values():
        assert counted.keys() <= known


@pytest.mark.parametrize(
    ("score", "says"),
    [
        (0.6, "Most likely the fat was poured too cool."),
        (0.59, "It may be that the fat was poured too cool."),
        (0.3, "It may be that the fat was poured too cool."),
        (0.29, "Can't tell; the strongest sign is that the fat was poured too cool."),
    ],
)
def test_how_sure_a_sentence_is_goes_by_the_score(make_run, good_runs, score, says):
    run = make_run("bad", outcome="rejected", defects=["grainy"], changed={"fat_at_pour_c": 35.5})
    known = builtin_knowledge()
    (first,) = [
        c for c in explain(run, good_runs, known).causes if c.mechanism.id == "fat_too_cool"
    ]
    witness = witness_of(run, good_runs, known)
    assert answer(known, witness, [replace(first, score=score)]).startswith(says)


def test_a_tenth_of_the_score_that_is_off_is_told():
    sure = [(0.95, True)] * 95 + [(0.95, False)] * 5
    assert [t.says for t in tenths(sure)] == ["within 0.1"]
    assert [t.says for t in tenths([(0.95, False)] * 50)] == ["OFF"]
    assert [t.says for t in tenths([(0.95, True), (0.95, False)])] == ["too few to tell"]

"""Batches of another product, by another physics, through the whole engine."""

import pytest

from logger.review.why.explain import explain
from logger.review.why.knowledge import builtin_knowledge
from tests.review.second_kitchen.traces import batch


@pytest.mark.parametrize("cause", ["short_chill", "uneven coat", "cold corner with a probe"])
def test_the_cause_is_named_first_without_any_good_batch(cause):
    run, named = batch(93_001, cause)
    assert run.outcome == "rejected"
    assert explain(run, [], builtin_knowledge()).causes[0].mechanism.id == named


def test_a_good_batch_is_accused_of_nothing():
    run, _ = batch(93_002)
    assert (run.outcome, run.defects) == ("accepted", ())
    assert explain(run, [], builtin_knowledge()).causes == ()

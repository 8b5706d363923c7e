"""Nothing asks for a check by its label: with all labels renamed a batch gives the same answers."""

from dataclasses import asdict, replace

import pytest

from logger.model.finding import Results
from logger.review.compare.compare import compare
from logger.review.features.portrait import portrait
from logger.review.plan.plan import plan
from logger.review.why.explain import explain
from logger.review.why.knowledge import builtin_knowledge
from logger.words import labels
from tests.bench.figures.virtual_runs import FATS, judged

WORDS = ("check", "says", "text")


def is_read(key, value):
    """Whether a value is only read by a person: evidence or a reason as a sentence."""
    return key in WORDS or (key in ("evidence", "why") and isinstance(value, str))


def without_words(value):
    """Return JSON values without what is only read by a person."""
    if isinstance(value, dict):
        return {k: without_words(v) for k, v in value.items() if not is_read(k, v)}
    return [without_words(v) for v in value] if isinstance(value, list | tuple) else value


@pytest.fixture(scope="module")
def batch():
    """A virtual batch whose pieces came out of the bath too early."""
    return judged(3, ("short_dwell",), short=True)[0]


def answers(facts):
    """Return what plan, features, explanation and comparison say of a batch."""
    one = portrait(facts)
    good = [replace(one, run_id=f"g{n}", outcome="accepted", defects=()) for n in range(4)]
    return {
        "results": asdict(facts.results),
        "features": {n: f.as_json() for n, f in one.features.items()},
        "plan": plan(facts.sheet, facts.bench, FATS).as_json(),
        "why": explain(one, good, builtin_knowledge()).as_json(),
        "compare": compare([good[0], one]).as_json(),
    }


@pytest.fixture
def renamed(monkeypatch):
    """Every label of a check is another one."""
    for name in ("LABELS", "WITHOUT_SUBJECT", "_FIGURES"):
        others = {key: f"thing {n} of {{subject}}" for n, key in enumerate(getattr(labels, name))}
        monkeypatch.setattr(labels, name, others)


def test_with_all_labels_renamed_a_batch_gives_the_same_numbers_and_verdicts(batch, request):
    before = answers(batch)
    request.getfixturevalue("renamed")
    again = judged(3, ("short_dwell",), short=True)[0]
    after = answers(again)
    assert len(before["results"]["findings"]) > 20
    assert without_words(after) == without_words(before)
    assert all(f["check"].startswith("thing") for f in after["results"]["findings"])
    assert not any(f["check"].startswith("thing") for f in before["results"]["findings"])
    assert isinstance(batch.results, Results)

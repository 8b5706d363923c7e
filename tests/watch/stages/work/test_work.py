"""A stage of words and time says its words and judges its time, and nothing else."""

import pytest

from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.model.kinds.registry import KINDS
from logger.words.steps import step_words
from tests.watch.made_up import S, engine, made_up_sheet

WORDS = ["Peel and chop to 5 mm; keep cold.", "Equipment: board, knife"]


# The sheet is made up of examples whose minutes are seconds.
def worked(lasted_s):
    batch = engine(made_up_sheet("work"))
    batch.feed([Event(t_ns=0, kind="run_start", source="operator")], 0)
    batch.feed([Event(t_ns=0, kind="next", source="operator")], 0)
    batch.feed([], lasted_s * S)
    view = batch.state(lasted_s * S).view
    batch.feed([Event(t_ns=lasted_s * S, kind="run_end", source="operator")], lasted_s * S)
    return view, [f for f in batch.results().findings if f.key.startswith("work.")]


@pytest.mark.parametrize(("lasted_s", "verdict"), [(3, "met"), (90, "not met")])
def test_its_words_are_shown_and_its_time_is_judged(lasted_s, verdict):
    view, findings = worked(lasted_s)
    assert (view.say, view.more) == ("Chop the roots", WORDS)
    assert [(f.key, f.verdict) for f in findings] == [("work.time_s", verdict)]


def test_a_stage_without_words_says_none_of_them():
    head = '[sheet]\nname = "T"\n'
    plain = [kind for kind in KINDS if kind.name != "work"]
    assert [step_words(sheet_from_text(head + k.example, k.name).stage[0]) for k in plain] == [
        [] for _ in plain
    ]

"""The same evidence gives the same answer as when answers were last kept.

Shows sameness, not truth: a difference is meant, or it is a mistake. Whoever meant it keeps the new
answers (``python -m tests.answers --write``) and reads what git says of them.
"""

import pytest

from tests.answers.answers import ANSWERS, FOLDER, changed, file_of, since
from tests.answers.lines import same

SHOWN = 20


@pytest.mark.parametrize("name", ANSWERS)
def test_the_same_evidence_gives_the_same_answer_as_last_time(name):
    found = since(name)
    assert not found, "\n".join(
        [f"{len(found)} lines; if that is meant: python -m tests.answers --write", *found[:SHOWN]]
    )


def test_each_kept_answer_is_asked_for():
    assert {path.name for path in FOLDER.iterdir()} == {file_of(name).name for name in ANSWERS}


def test_numbers_may_differ_in_their_last_digit_and_words_not_at_all():
    assert same("a: 12.3456 g, 3", "a: 12.3457 g, 3")
    assert not same("a: 12.3456 g, 3", "a: 12.347 g, 3")
    assert not same("a: 12.3456 g, 3", "a: 12.3456 g, 4")
    assert not same("a: 12.3456 g, 3", "a: 12.3456 kg, 3")
    assert not same("a: 12.3456 g", "a: -12.3456 g")
    assert changed(["a", "b"], ["a"]) == ["-b"]

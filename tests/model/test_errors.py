"""A message is one short line that keeps file, key, what was found and what to do."""

import pytest

from logger.model.errors import MOST_SAID, InputError

LONG = "a" * 5_000
WORDS = ", ".join(f"word{n}" for n in range(500))


@pytest.mark.parametrize(
    ("parts", "kept"),
    [
        ((f"/{LONG}/x.sheet.toml: stage[2].dwell.low", "'7'", "write text"),
         ("x.sheet.toml: stage[2].dwell.low: '7'; write text",)),
        ((f"x.toml: {LONG}.mass", "'7'", "write text"), ("x.toml: aaa", ".mass: '7'; write text")),
        (("x.csv: row 3, column 2 (fat [degC])", LONG, "write a number"),
         ("x.csv: row 3, column 2 (fat [degC]): aaa", "...; write a number")),
        (("x.toml: kind", "kind 'x'", f"write one of {WORDS}"),
         ("x.toml: kind: kind 'x'; write one of word0, word1,", ", ...")),
        ((LONG, LONG, LONG), ("aaa",)),
        ((": ".join([LONG] * 9), WORDS, WORDS), ("aaa", "word0", "; word0")),
    ],
)  # fmt: skip
def test_a_long_message_is_cut_and_keeps_what_is_needed(parts, kept):
    said = str(InputError(*parts))
    assert len(said) <= MOST_SAID
    assert all(part in said for part in kept), said


@pytest.mark.parametrize("long", range(0, 1500, 11))
def test_no_message_is_longer_than_the_most(long):
    for parts in (("b" * long, "f", "w"), ("b", "f" * long, "w"), ("b", "f", "w " * (long // 2)),
                  ("b" * long, "f" * long, "w" * 40), ("a: " * long, "f" * 40, "w")):  # fmt: skip
        assert len(str(InputError(*parts))) <= MOST_SAID


def test_a_short_message_is_left_as_it_is():
    error = InputError("x.toml: a.b", "found 'x'", "write y")
    assert str(error) == "x.toml: a.b: found 'x'; write y"
    assert (error.where, error.found, error.wanted) == ("x.toml: a.b", "found 'x'", "write y")

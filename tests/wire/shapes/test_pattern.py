"""Patterns that can run away are told from those that cannot, without running them."""

import pytest

from logger.wire.shapes.hostile import hostile_lines
from logger.wire.shapes.pattern import PatternTooWildError, check_pattern

# The first three are the standing examples of Weideman et al. (2016) and of OWASP, "Regular
# expression Denial of Service"; the others are made from the definition of exponential ambiguity.
WILD = [
    r"(a+)+b", r"(a*)*b", r"(a|aa)+b", r"(a|a)*b", r"(\d+|[0-9]+)*x", r"(x+x+)+y", r"(.*,)*x",
    r"(ab|a|b)*c", r"([ab]c|bc|a)*(cb)*$", r"(?:a{1,3})*", r"(a?b?)*", r"(a?){30}a{30}",
    r"((ab)*)*", r"(\w+\s?)*!", r"^(([a-z])+.)+[A-Z]([a-z])+$",
]  # fmt: skip
TAME = [
    r"(?:\d+,)+x", r"[+-] *\d+(?:\.\d+)?", r"(OPEN|)", r"a*a*b", r"(?:[A-Z]+=\d+ )+",
    r"\{\"[a-z]+\":\d+\}", r"(ab|cd)*e", r"[^,]+,[^,]+,[^,]*", r"-?\d{1,4}", r"(a|ba)*b?",
]  # fmt: skip


@pytest.mark.parametrize("pattern", WILD)
def test_an_ambiguous_repeat_is_refused(pattern):
    with pytest.raises(PatternTooWildError):
        check_pattern(pattern)


@pytest.mark.parametrize("pattern", TAME)
def test_an_unambiguous_pattern_passes(pattern):
    check_pattern(pattern)


@pytest.mark.parametrize("pattern", [r"(?=a)b", r"(a)\1", r"(?i)a", r"(?<!a)b", "(", r"a{9999}"])
def test_what_cannot_be_judged_is_refused(pattern):
    with pytest.raises(PatternTooWildError):
        check_pattern(pattern)


def test_every_built_in_pattern_passes(shape):
    for pattern in shape.patterns:
        check_pattern(pattern)


def test_hostile_lines_feed_every_repeat_and_then_fail():
    lines = hostile_lines(r"(?P<a>\d*),[a-c]*x", 20)
    assert any(line.startswith("0000") and line.endswith("\x01") for line in lines)
    assert any("aaaa" in line and line.endswith("\x01") for line in lines)
    assert all(len(line) <= 20 for line in lines)

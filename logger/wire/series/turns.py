"""Do the numbers of one place come from several things in turn?

Four probes that share a column, a set value printed between the readings, channels with their
number in front. Pure; looks at numbers in the order in which they came. Used by ``recognise``.
"""

import math
import statistics
from collections import Counter
from collections.abc import Sequence
from itertools import pairwise

from logger.wire.series.beside import digits_of

WOVEN_LINES, WOVEN_SHARE = 3, 0.85
WOVEN_LEAST, WOVEN_PART, WOVEN_TIMES = 0.3, 0.01, 10.0
"""From so many numbers on, a field shows several things in turn where this share of the steps from
one number to the next are more than so much [degC or g, or a unit of the lines], more than this
part of the value, and so many times what this share of the steps to the one after next (or the next
but two...) are at most. A display that flickers between two numbers is not in strict turn. Of few
numbers that is a guess, which more of them settle."""
FLICKER = 2.05
"""A display flickers by so many of its last places."""
MUCH_LESS = 4.0
SET_LINES, SET_DIFFERENT = 6, 3
"""So many numbers that are all the same, each a fixed number of lines after the one before, are a
set value where the numbers between them are of so many kinds at least."""
MOST_TURNS = 4
COUNT_LINES = 6
"""A weight or a temperature that goes up by the same whole step in so many lines is a count."""
CODES = range(2, 9)
"""So many different whole numbers that come again and again may be channels."""


def in_turn(values: Sequence[float]) -> bool:
    """Whether numbers come from several things in turn, or are a reading and a set value.

    Parameters
    ----------
    values : sequence of float
        In order [degC or g, or a unit of the lines].
    """
    return woven(values) or _has_set_value(values) or _to_and_fro(values)


def woven(values: Sequence[float]) -> bool:
    """Whether numbers come from several things in turn, such as four probes in one column.

    Parameters
    ----------
    values : sequence of float
        In order [degC or g, or a unit of the lines].
    """
    if len(values) < WOVEN_LINES:
        return False
    step = _steps(values, 1)[-math.ceil(WOVEN_SHARE * (len(values) - 1))]
    if step <= max(WOVEN_LEAST, WOVEN_PART * statistics.median(map(abs, values))):
        return False
    for turn in range(2, max(2, len(values) // 3) + 1):
        near = _steps(values, turn)
        if near[math.ceil(WOVEN_SHARE * len(near)) - 1] * WOVEN_TIMES < step:
            return True
    return False


def _steps(values: Sequence[float], apart: int) -> list[float]:
    """Return the sizes of all steps between numbers that lie so far apart, smallest first."""
    return sorted(abs(b - a) for a, b in zip(values, values[apart:], strict=False))


def _to_and_fro(values: Sequence[float]) -> bool:
    """Whether each number goes back on the step before it, and each second one hardly changes.

    Steps are further than a display flickers. Of three or four numbers that is a guess, which more
    of them settle.
    """
    if len(values) < WOVEN_LINES:
        return False
    steps = [b - a for a, b in pairwise(values)]
    last_place = 10.0 ** -digits_of(values)
    least = max(WOVEN_LEAST, WOVEN_PART * statistics.median(map(abs, values)), FLICKER * last_place)
    back = all(a * b < 0 for a, b in pairwise(steps))
    shortest = min(map(abs, steps))
    kept = [max(some) - min(some) for some in (values[::2], values[1::2]) if len(some) > 1]
    return back and shortest > least and min(kept) * MUCH_LESS <= shortest


def _has_set_value(values: Sequence[float]) -> bool:
    """Whether each second (third, fourth) number is the same while those between them change."""
    for turn in range(2, MOST_TURNS + 1):
        for at in range(turn):
            alike = values[at::turn]
            if len(alike) < SET_LINES or len(set(alike)) > 1:
                continue
            others = [value for n, value in enumerate(values) if n % turn != at]
            if len(set(others)) >= SET_DIFFERENT and others.count(alike[0]) * 2 < len(others):
                return True
    return False


def comes_again(codes: Sequence[str]) -> bool:
    """Whether a few whole numbers come again and again, as those of channels or states do.

    Parameters
    ----------
    codes : sequence of str
        As printed, one a line.
    """
    counts = Counter(codes)
    return len(counts) in CODES and min(counts.values()) > 1


def counts_on(values: Sequence[float]) -> bool:
    """Whether whole numbers go on by the same step of 2 and more each time.

    Parameters
    ----------
    values : sequence of float
        In order [degC or g].
    """
    steps = {b - a for a, b in pairwise(values)}
    whole = all(value == round(value) for value in values)
    return len(values) >= COUNT_LINES and len(steps) == 1 and whole and abs(*steps) >= 2


def channels_in_turn(codes: Sequence[str], values: Sequence[float]) -> bool:
    """Whether whole numbers in front of readings are those of channels, not a running number.

    Parameters
    ----------
    codes : sequence of str
        As printed, one a line.
    values : sequence of float
        The reading of each line [degC or g, or a unit of the lines].
    """
    groups: dict[str, list[float]] = {}
    for code, value in zip(codes, values, strict=False):
        groups.setdefault(code, []).append(value)
    if not comes_again(codes) or len(codes) != len(values):
        return False
    within = max(max(group) - min(group) for group in groups.values())
    means = [statistics.fmean(group) for group in groups.values()]
    return max(means) - min(means) > within

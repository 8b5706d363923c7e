"""Is a number of a line made of the two before it?

A thermometer of two probes often prints their difference or their mean in the same way as a third
probe. Pure; looks at numbers in the order in which they came. Used by ``recognise``.
"""

from collections.abc import Sequence
from itertools import pairwise

LEAST = 5
"""Lines in which it must be so."""
APART = 1.0
"""The two numbers differ by more than this: probes that lie side by side show anything [a unit of
the lines]."""
MOST_DIGITS = 4


def made_of_two(columns: Sequence[Sequence[float]]) -> list[int]:
    """Return which columns are the difference or the mean of the two before them.

    Parameters
    ----------
    columns : sequence of sequence of float
        The numbers of each place of the lines, in order [a unit of the lines].
    """
    found = []
    for at, (first, second, third) in enumerate(
        zip(columns, columns[1:], columns[2:], strict=False)
    ):
        same = len(first) == len(second) == len(third) >= LEAST
        if same and _made(first, second, third):
            found.append(at + 2)
    return found


def _made(first: Sequence[float], second: Sequence[float], third: Sequence[float]) -> bool:
    rows = list(zip(first, second, third, strict=True))
    if any(abs(a - b) <= APART for a, b, _ in rows):
        return False
    close = 1.05 * 10.0 ** -digits_of([*first, *second, *third])
    difference = all(abs(abs(a - b) - abs(c)) <= close for a, b, c in rows)
    return difference or all(abs((a + b) / 2 - c) <= close for a, b, c in rows)


def digits_of(values: Sequence[float]) -> int:
    """Return how many decimals numbers have, at most `MOST_DIGITS` [a unit of the lines]."""
    for digits in range(MOST_DIGITS):
        if all(abs(round(value, digits) - value) < 1e-6 for value in values):
            return digits
    return MOST_DIGITS


def steady_steps(values: Sequence[float], least: float, part: float) -> bool:
    """Whether numbers go up or down by nearly the same step each time, as a clock does.

    Parameters
    ----------
    values : sequence of float
        At least two [a unit of the lines].
    least : float
        Smallest step [the same unit].
    part : float
        How far steps may differ, as part of their mean [1].
    """
    steps = [b - a for a, b in pairwise(values)]
    mean = sum(steps) / len(steps)
    return abs(mean) >= least and max(steps) - min(steps) <= part * abs(mean)

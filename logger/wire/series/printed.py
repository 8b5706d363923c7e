"""Is it certain what the digits of the lines mean?

A point or a comma may stand between thousands (1.304 g is 1304 g then), and acceleration is printed
with three decimals and g as well. Digits that are filled with zeros and have no point often leave
it out. Pure; looks at lines as they came. Used by ``recognise``, ``taught`` and the decoders.
"""

import re
from collections.abc import Sequence
from itertools import pairwise
from math import floor

LEAST = 3
"""Lines before anything is said of them."""
KEPT, MOST = 0.2, 0.8
"""How near decimals stay to those before, and at which part of the steps to another whole number,
where they are a number of their own."""
MOST_PLACES, SHIFTED = 4, 0.2
"""A number that came without its point is so many places too large at most, and within this part of
the number before when the point is put back."""
_GRAMS = re.compile(r"(?<![\d.,])\d{1,3}(?:(?:\.\d{3})+|(?:,\d{3})+) *[gG](?![\w/*%])")
_OTHER = re.compile(
    r"(?<![\d.,])(?:\d{4,}[.,]\d+|0\d+[.,]\d+|\d+[.,](?:\d{1,2}|\d{4,})) *[gG](?![\w/*%])"
)
_GROUPED = re.compile(r" *[+-]?\d{1,3}(?:,\d{3})+(?:\.\d+)?\s*")
_FILLED = re.compile(r"(?<![\d.,])0\d{4,}(?![\d.,])")


def may_mark_thousands(lines: Sequence[str]) -> bool:
    """Whether the point of weights in grams may stand between thousands.

    Three decimals and g are thousandths of a gram, thousands of grams, or acceleration. Four digits
    in front of the point, or zeros to fill the number, settle it.

    Parameters
    ----------
    lines : sequence of str
        As they came.
    """
    grams = sum(_GRAMS.search(line) is not None for line in lines)
    return grams >= LEAST and not any(map(_OTHER.search, lines))


def may_be_grouped(lines: Sequence[str]) -> bool:
    """Whether each line is one number with commas between thousands, not a list of two.

    Parameters
    ----------
    lines : sequence of str
        As they came, without a half line.
    """
    there = [line for line in lines if line.strip()]
    return len(there) >= LEAST and all(map(_GROUPED.fullmatch, there))


def lacks_its_point(texts: Sequence[str]) -> bool:
    """Whether numbers are filled with zeros and have no point: it may be left out.

    Parameters
    ----------
    texts : sequence of str
        Lines or numbers, as they came.
    """
    filled = [text for text in texts if _FILLED.search(text)]
    return len(filled) >= LEAST and not any("." in t for t in filled)


def may_be_two_numbers(values: Sequence[float]) -> bool:
    """Whether numbers with a decimal comma may be two whole numbers with a comma between them.

    A number that passes a whole one begins its decimals anew; of two numbers the second goes on.

    Parameters
    ----------
    values : sequence of float
        In order, as sent [a unit of the lines].
    """
    steps = [b - a for a, b in pairwise(values) if floor(a) != floor(b)]
    kept = [step for step in steps if round(step) and abs(step - round(step)) <= KEPT]
    return len(kept) >= LEAST and len(kept) >= MOST * len(steps)


def lost_its_point(before: float, now: float) -> bool:
    """Whether a number that came without its point is the one before, a power of ten too large.

    Parameters
    ----------
    before, now : float
        As sent [a unit of the lines]; the one before had a point.
    """
    for places in range(1, MOST_PLACES + 1):
        apart = abs(now * 10.0**-places - before)
        if apart <= SHIFTED * abs(before) and apart < abs(now - before):
            return True
    return False

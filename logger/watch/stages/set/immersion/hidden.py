"""What one gap of the scale may hide: sets of pieces that went in, by what they weigh together.

Pure functions of numbers; used by `hypotheses`. The levels before and after a gap limit what can
have happened in it, and its length how much.
"""

import math
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import NamedTuple

from logger.watch.stages.set.immersion.likelihood import LOG_PRIOR_IN

LEAST_S, USUAL_S = 4.0, 15.0
"""Shortest and usual time from one act at the bath to the next [s]."""
MOST_ACTS = 5
"""More than so many pieces in and out are not looked at in one gap."""
GATE_U, GATE_G = 4.0, 2.0
"""Sets are looked at whose mass fits to so many standard uncertainties, and so many grams more."""


class Entry(NamedTuple):
    """Pieces that may have gone in within one gap.

    Attributes
    ----------
    mass_g : float
        What the scale should show of them together [g].
    u_g : float
        Its standard uncertainty [g].
    pieces : tuple of int
        Their numbers.
    """

    mass_g: float
    u_g: float
    pieces: tuple[int, ...]


def weighed_entries(masses: Sequence[tuple[int, float]], most: int, u_each_g: float) -> list[Entry]:
    """Return every set of registered pieces, none included, in order of mass.

    Parameters
    ----------
    masses : sequence of tuple
        Number and mass of each piece not seen yet [g].
    most : int
        Pieces of a set at most [1].
    u_each_g : float
        Standard uncertainty of one mass [g].
    """
    return sorted(
        Entry(sum(m for _, m in chosen), math.sqrt(count) * u_each_g, tuple(n for n, _ in chosen))
        for count in range(min(most, len(masses)) + 1)
        for chosen in combinations(masses, count)
    )


def alike_entries(first: int, piece_g: float, u_each_g: float, most: int) -> list[Entry]:
    """Return sets of pieces that nobody weighed: none, one, two and so on.

    Parameters
    ----------
    first : int
        Number of the next piece [1].
    piece_g, u_each_g : float
        Usual mass of a piece and its standard deviation [g].
    most : int
        Pieces of a set at most [1].
    """
    return [
        Entry(count * piece_g, math.sqrt(count) * u_each_g, tuple(range(first, first + count)))
        for count in range(most + 1)
    ]


def fitting(
    entries: Sequence[Entry], in_g: float, u_g: float, fewest: int, most: int
) -> Iterator[Entry]:
    """Yield the sets that may weigh what went in.

    Parameters
    ----------
    entries : sequence of Entry
        In order of mass.
    in_g, u_g : float
        What went in and its standard uncertainty [g].
    fewest, most : int
        Pieces of a set [1].
    """
    widest_g = max(entry.u_g for entry in entries)
    reach_g = GATE_G + GATE_U * math.hypot(u_g, widest_g)
    start = bisect_left(entries, (in_g - reach_g,))
    for entry in entries[start:]:
        if entry.mass_g > in_g + reach_g:
            return
        if fewest <= len(entry.pieces) <= most:
            yield entry


def log_prior(acts: int, lasts_s: float) -> float:
    """Return the log-prior of so many acts in one gap, beside that of one [1].

    Parameters
    ----------
    acts : int
        Pieces in and out [1], one at least.
    lasts_s : float
        Length of the gap [s].

    Notes
    -----
    As in a Poisson process of one act in `USUAL_S`.
    """
    rate = lasts_s / USUAL_S
    more = (acts - 1) * math.log(rate) - math.log(math.factorial(acts))
    return acts * LOG_PRIOR_IN + min(0.0, more)

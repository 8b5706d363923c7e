"""Which columns of a list without units may be probes, and which are something else.

A list of bare numbers may hold a clock, a count, a humidity or a pressure beside the temperatures.
Pure; looks at the columns as printed. Used by ``recognise``.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import Literal

Kind = Literal["number", "count", "clock", "humidity", "out of range", "blank", "further"]
"""Further: one more of like values than its line format names."""
LOWEST, HIGHEST = -100.0, 800.0
"""Outside of these a number is no temperature of a kitchen, in degC or degF; a pressure of the air
in hPa is above. Common practice, no source."""
STEP = 0.2
"""A column that grows by the same step of at least this on each line is a clock."""
HUMID = (15.0, 100.0)
"""Relative humidity in a room [%]; common practice, no source."""
ROOM = (0.0, 45.0)
"""The temperature beside it, in degC; common practice, no source."""
APART = 8.0
"""Humidity beside a temperature is at least so different from it; common practice, no source."""


def kinds_of(columns: Sequence[Sequence[str]]) -> list[Kind]:
    """Return what each column of a list may be.

    Parameters
    ----------
    columns : sequence of sequence of str
        The cells of each column as printed, in the order of the lines; at least three lines.

    Returns
    -------
    list of str
        ``"number"`` for one that may be a probe.
    """
    kinds = [_kind(cells, alone=len(columns) == 1) for cells in columns]
    means = [_mean(cells) for cells in columns]
    pairs = [at for at in range(len(columns) - 1) if _humid(kinds, means, at)]
    # Of longer lists only where each pair is alike: a fat at 60 degC stands beside a room at 21.
    if len(columns) in (2, 3) or pairs == list(range(0, len(columns) - 1, 2)):
        for at in pairs:
            kinds[at + 1] = "humidity"
    return kinds


def _kind(cells: Sequence[str], *, alone: bool) -> Kind:
    numbers = _numbers(cells)
    if not numbers:
        return "number" if any(cell.strip() for cell in cells) else "blank"
    steps = {round(b - a, 6) for a, b in pairwise(numbers)}
    whole = not any("." in cell or "," in cell for cell in cells)
    if len(numbers) > 2 and min(steps) > 0 and (whole or (len(steps) == 1 and min(steps) >= STEP)):
        return "clock"
    if whole and not alone:
        return "count"
    if not all(LOWEST <= number <= HIGHEST for number in numbers):
        return "number" if alone else "out of range"
    return "number"


def _numbers(cells: Sequence[str]) -> list[float]:
    found = []
    for cell in cells:
        try:
            found.append(float(cell.replace(",", ".").replace(" ", "")))
        except ValueError:
            continue
    return found


def _mean(cells: Sequence[str]) -> float:
    numbers = _numbers(cells)
    return sum(numbers) / len(numbers) if numbers else 0.0


def _humid(kinds: Sequence[Kind], means: Sequence[float], at: int) -> bool:
    if kinds[at] != "number" or kinds[at + 1] != "number":
        return False
    left, right = means[at], means[at + 1]
    beside = ROOM[0] <= left <= ROOM[1] and HUMID[0] <= right <= HUMID[1]
    return beside and abs(left - right) >= APART

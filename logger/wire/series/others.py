"""Do whole lines come from several things in turn, though their values are near each other?

What stands beside the value tells it at once: a set value, a humidity, a cold junction that goes to
and fro, a header that comes again. Later the values part, and tell it themselves. Pure; looks at
lines and numbers in the order in which they came. Used by ``recognise`` and the decoders.
"""

import re
import statistics
from collections.abc import Sequence
from itertools import pairwise

from logger.wire.series.turns import FLICKER, MUCH_LESS, WOVEN_LEAST, WOVEN_PART
from logger.wire.shapes.possible import says_no_value

TURNS = ((2, 3), (3, 6), (4, 8))
"""How many things may come in turn, and the lines that it takes: of few that is a guess, which more
of them settle."""
APART = 3.0
"""Groups of numbers are apart by so many times what they change within."""
EVENLY = 0.8
"""Share of the lines of a kind that come at the same distance."""
NUMBERLESS = 1e30
"""So large, a number says that there is none."""
STEPS = 8
"""So many steps to and fro in a row are no single thing."""
_NUMBER = re.compile(r"(?<![A-Za-z\d.])-?\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?")
_HEAD = re.compile(r"[^\w{]*[A-Za-z]+(?!.*\d[.,]\d)")
"""First word of a line without a number that has decimals."""


def lines_in_turn(lines: Sequence[str]) -> bool:
    """Whether any number of the lines, or headers with the same first word, come in turn.

    Parameters
    ----------
    lines : sequence of str
        Whole lines, in order.
    """
    kinds: dict[str, dict[int, list[str]]] = {}
    heads: dict[str, list[str]] = {}
    for at, line in enumerate(lines):
        kinds.setdefault(_NUMBER.sub("0", line), {})[at] = _NUMBER.findall(line)
        head = _HEAD.match(line)
        if head is not None:
            heads.setdefault(head[0], []).append(line)
    even = [rows for rows in kinds.values() if _come_evenly(list(rows))]
    columns = (column for rows in even for column in zip(*rows.values(), strict=True))
    return any(map(_apart, columns)) or any(map(_rotate, heads.values()))


def _come_evenly(places: Sequence[int]) -> bool:
    """Whether lines of one kind come as often as each other, as those of a report do."""
    steps = [b - a for a, b in pairwise(places)]
    return bool(steps) and steps.count(statistics.mode(steps)) >= EVENLY * len(steps)


def _apart(texts: Sequence[str]) -> bool:
    """Whether each second (third, fourth) number is like itself and unlike the others."""
    values = [float(text.replace(",", ".")) for text in texts]
    places = max(
        len(re.split("[eE]", text.replace(",", "."))[0].partition(".")[2]) for text in texts
    )
    least = FLICKER * 10.0**-places
    if any(abs(v) >= NUMBERLESS or says_no_value(v, "temperature") for v in values):
        return False
    for turn, least_lines in TURNS:
        if len(values) < least_lines:
            break
        groups = [values[at::turn] for at in range(turn)]
        within = max(max(group) - min(group) for group in groups)
        means = [sum(group) / len(group) for group in groups]
        if max(means) - min(means) > max(APART * within, least):
            return True
    return False


def _rotate(texts: Sequence[str]) -> bool:
    """Whether a few different lines come again in the same order."""
    for turn, least_lines in TURNS:
        if len(texts) >= least_lines and len(set(texts[:turn])) == turn:
            return all(texts[at] == texts[at - turn] for at in range(turn, len(texts)))
    return False


class Weave:
    """Notices when the values of a field part into two series, while they come."""

    def __init__(self) -> None:
        self._last: dict[str, tuple[float, float, int]] = {}

    def forget(self) -> None:
        """Forget all values."""
        self._last.clear()

    def woven(self, field: str, value: float) -> bool:
        """Whether a field shows two things in turn by now; it stays so.

        Parameters
        ----------
        field : str
            Its name.
        value : float
            Its next value [degC or g].
        """
        before, earlier, steps = self._last.get(field, (value, value, 0))
        step = value - before
        least = max(WOVEN_LEAST, WOVEN_PART * abs(value))
        back = step * (before - earlier) < 0 and abs(value - earlier) * MUCH_LESS <= abs(step)
        if steps < STEPS:
            steps = steps + 1 if back and abs(step) > least else 0
        self._last[field] = value, before, steps
        return steps >= STEPS

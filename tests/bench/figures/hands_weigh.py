"""Weighings of a dozen habits through the whole engine: `tests.watch.stages.weigh.habits`.

right    ingredients that were booked, and with the mass that went in: within 0.6 % or 3 steps of
         the display.
asked    not booked: what it was is asked, and nothing is judged.
wrong    judged with a mass that is not the ingredient's.
"""

import math
from collections import Counter

from tests.bench.figures.hands_row import Row
from tests.watch.stages.weigh.habits import HABITS, session
from tests.watch.stages.weigh.scored import score

FEWEST = 300
"""Weighings in the full table."""
_KINDS = ("right", "wrong", "asked", "missing")


def rows(sessions: int, first_seed: int) -> list[Row]:
    """Return the rows of the weighings: every habit, then all of them."""
    each = math.ceil(FEWEST / 200 * sessions / len(HABITS))
    all_of: Counter = Counter()
    found = []
    for habit in HABITS:
        count: Counter = Counter()
        for seed in range(first_seed, first_seed + each):
            count += score(session(seed, habit))[0]
        all_of += count
        found.append(_right_row(f"weighing, {habit}: booked right", count, ""))
    wrong, tapped_wrong = all_of["wrong verdict"], all_of["tapped wrong verdict"]
    return [
        *found,
        _right_row(f"{each * len(HABITS)} weighings: booked right", all_of, ""),
        _right_row("booked right after the taps it asks for", all_of, "tapped "),
        Row(
            what="taps asked for, of as many ingredients",
            wanted="",
            measured=f"{all_of['taps']} of {_every(all_of, '')}",
            holds=True,
        ),
        Row(
            what="wrongly booked with a verdict",
            wanted="0",
            measured=f"{wrong}, after taps {tapped_wrong}",
            holds=wrong == tapped_wrong == 0,
        ),
    ]


def _every(count: Counter, prefix: str) -> int:
    return sum(count[prefix + kind] for kind in _KINDS)


def _right_row(what: str, count: Counter, prefix: str) -> Row:
    every = _every(count, prefix)
    share = count[f"{prefix}right"] / max(1, every)
    asked = count[f"{prefix}asked"] + count[f"{prefix}missing"]
    return Row(
        what=what,
        wanted=">= 0.98",
        measured=f"{share:.3f} of {every}, {asked} open, {count[f'{prefix}wrong']} wrong",
        holds=share >= 0.98,
    )

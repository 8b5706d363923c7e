"""What may vary in a recipe and by how much, as it was in good batches.

Pure; portraits of accepted runs of one product in, rows out. Of a few batches only what was seen is
said; where the next good one lies is not guessed. Limits of core, cooling and holding are left out:
that a batch came out well says nothing about them.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from logger.model.kinds.registry import kind_of, title_of
from logger.model.sheet import Sheet
from logger.review.features.feature import SPECS, Spec
from logger.review.features.portrait import Portrait
from logger.words.twofold import span_twofold

MOST = 20
"""Good batches that are looked at, the latest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A number of a stage, from where to where it lay, and in how many batches it was measured."""

    stage: str
    name: str
    seen: str
    batches: int


def seen_in(sheet: Sheet, good: Sequence[Portrait]) -> list[Seen]:
    """Return what was seen of each number that the sheet's stages can have.

    Parameters
    ----------
    sheet : Sheet
        Whose stages count.
    good : sequence of Portrait
        Accepted runs of its product, the latest first.
    """
    return list(_rows(sheet, good[:MOST]))


def _rows(sheet: Sheet, good: Sequence[Portrait]) -> Iterator[Seen]:
    for stage in sheet.stage:
        kind = kind_of(stage)
        if kind.keeps_limits:
            continue
        for spec in SPECS:
            if spec.kind != stage.kind or not (spec.target or kind.weighs_in):
                continue
            values = [value for run in good for value in _values(run, spec, stage.id)]
            if not values:
                continue
            yield Seen(
                stage=title_of(stage),
                name=spec.label,
                seen=span_twofold(min(values), max(values), spec.unit),
                batches=len(values),
            )


def _values(run: Portrait, spec: Spec, stage: str) -> Iterator[float]:
    found = run.features.get(spec.name)
    if found is None or found.stage != stage or found.value is None:
        return
    if math.isfinite(found.value):
        yield found.value

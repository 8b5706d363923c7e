"""Numbers that any kind of stage can have: its length, and what its core came to.

Pure; the record of the kind says which. Shared parts of the kinds' own modules stand here too.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from logger.model.kinds.registry import Stage, kind_of, title_of
from logger.model.rows import StageRow
from logger.review.features.facts import RunFacts, Window
from logger.review.features.feature import Feature, Span, have, lack

U_TIME_S = 1.0
SURE_PIECE = 0.8
"""Probability from which a row of the bath is a piece's [1]."""
_END_S = (15.0, 3.0)
_ALMOST_ALL = 0.995
"""Share of the readings below the highest: a spike makes no highest core."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StageFacts:
    """A stage of one run, as its numbers are taken.

    Attributes
    ----------
    row : StageRow or None
        How it ran; None where it did not.
    before : mapping of str to Feature
        Numbers of the kinds before it, by name.
    """

    facts: RunFacts
    stage: Stage
    row: StageRow | None
    before: Mapping[str, Feature]

    @property
    def span_s(self) -> tuple[float, float] | None:
        """From when to when it ran, on the run's axis [s]; None unless it was run to its end."""
        row = self.row
        if row is None or row.start_s is None or row.end_s is None:
            return None
        return row.start_s, row.end_s


def stage_features(here: StageFacts) -> Iterator[Feature]:
    """Yield the figures of a stage that its kind's record says how to take."""
    takers = {"length": _length, "core at the end": _core_at_end, "highest core": _highest_core}
    for figure in kind_of(here.stage).figures:
        if figure.taken is not None:
            yield takers[figure.taken](here, figure.name)


def _length(here: StageFacts, name: str) -> Feature:
    span_s = here.span_s
    if span_s is None:
        return lack(name, here.stage.id, "the stage was not completed")
    start_s, end_s = span_s
    return have(name, here.stage.id, end_s - start_s, U_TIME_S, Span(None, start_s, end_s))


def _core_at_end(here: StageFacts, name: str) -> Feature:
    early_s, late_s = _END_S
    end_s = here.span_s[1] if here.span_s is not None else None
    window = (
        here.facts.window("core", end_s - early_s, end_s - late_s) if end_s is not None else None
    )
    return median_feature(name, here.stage.id, window, "no core readings at the end")


def _highest_core(here: StageFacts, name: str) -> Feature:
    window = here.facts.window("core", *here.span_s) if here.span_s is not None else None
    if window is None:
        return lack(name, here.stage.id, f"no core readings in the stage {title_of(here.stage)}")
    highest = float(np.quantile(window.value, _ALMOST_ALL))
    return have(name, here.stage.id, highest, window.u, window.span)


def median_feature(name: str, stage: str, window: Window | None, missing: str) -> Feature:
    """Return the median of a window as a feature, or why there is none.

    Parameters
    ----------
    name : str
        Of the figure.
    stage : str
        Id of the stage.
    window : Window or None
        Readings; None where there are none.
    missing : str
        Why, then.
    """
    if window is None:
        return lack(name, stage, missing)
    return have(name, stage, float(np.median(window.value)), window.u, window.span)


def of_pieces(
    here: StageFacts, values: Sequence[float], names: tuple[str, str, str], missing: str
) -> Iterator[Feature]:
    """Yield mean, smallest and largest of the pieces, or why there are none.

    Parameters
    ----------
    here : StageFacts
        The stage.
    values : sequence of float
        One number of each piece [unit of the figures].
    names : tuple of str
        Of the three figures, in that order.
    missing : str
        Why, where no piece has the number.
    """
    stage = here.stage.id
    if not values:
        yield from (lack(name, stage, missing) for name in names)
        return
    for name, value in zip(names, (float(np.mean(values)), min(values), max(values)), strict=True):
        yield have(name, stage, value, here.facts.judged_u(stage, name))


def known(values: Iterable[float | None]) -> list[float]:
    """Return the values [any unit] that there are."""
    return [value for value in values if value is not None]

"""Numbers that any kind of stage can have: its length, and what its core came to.

Pure; the record of the kind says which. Shared parts of the kinds' own modules stand here too.
"""

import math
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
    takers = {
        "length": _length,
        "core at the end": _core_at_end,
        "highest core": _highest_core,
        "cores at the end apart": _cores_at_end_apart,
        "highest cores apart": _highest_cores_apart,
    }
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
    end_s = _end_s(here)
    window = here.facts.window("core", *end_s) if end_s is not None else None
    return median_feature(name, here.stage.id, window, "no core readings at the end")


def _end_s(here: StageFacts) -> tuple[float, float] | None:
    """Return from when to when the last readings of a stage are [s]; None unless it ended."""
    early_s, late_s = _END_S
    span_s = here.span_s
    return None if span_s is None else (span_s[1] - early_s, span_s[1] - late_s)


def _highest_core(here: StageFacts, name: str) -> Feature:
    window = here.facts.window("core", *here.span_s) if here.span_s is not None else None
    if window is None:
        return lack(name, here.stage.id, f"no core readings in the stage {title_of(here.stage)}")
    return have(name, here.stage.id, _highest(window), window.u, window.span)


def _highest(window: Window) -> float:
    return float(np.quantile(window.value, _ALMOST_ALL))


def _highest_cores_apart(here: StageFacts, name: str) -> Feature:
    windows = here.facts.windows("core", *here.span_s) if here.span_s is not None else []
    return apart_feature(here, name, "core", [(_highest(w), w) for w in windows])


def _cores_at_end_apart(here: StageFacts, name: str) -> Feature:
    end_s = _end_s(here)
    windows = here.facts.windows("core", *end_s) if end_s is not None else []
    return apart_feature(here, name, "core", [(float(np.median(w.value)), w) for w in windows])


def apart_feature(
    here: StageFacts, name: str, role: str, values: Sequence[tuple[float, Window]]
) -> Feature:
    """Return how far the probes of a role differ as a feature, or that they are too few.

    Parameters
    ----------
    here : StageFacts
        The stage.
    name : str
        Of the figure.
    role : str
        Of the probes.
    values : sequence of pair
        What each shows [degC], and the readings it is from.
    """
    if len(values) < 2:
        has = sum(c.role == role for c in here.facts.bench.channel)
        why = f"it takes two probes in different places, and the bench has {has or 'none'}"
        return lack(name, here.stage.id, why)
    (low_c, lowest), *_, (high_c, highest) = sorted(values, key=lambda one: one[0])
    u = math.hypot(lowest.u, highest.u)
    return have(name, here.stage.id, high_c - low_c, u, lowest.span)


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

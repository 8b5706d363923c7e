"""What is drawn of a run on paper: its lines, targets and stages, as plain values."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from logger.model.rows import GapRow, StageRow
from logger.review.targets import Target


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """One channel to draw.

    Attributes
    ----------
    id, role, label, unit : str
        Of the channel; ``unit`` is ``degC`` or ``g``.
    t_s, value : ndarray, shape (n,)
        Times [s] and values; nan where there is none.
    without_lag : ndarray, shape (n,), or None
        The same without the probe's lag, drawn thinner beside it; None where none is kept.
    """

    id: str = ""
    role: str = "other"
    label: str
    unit: str
    t_s: NDArray[np.float64]
    value: NDArray[np.float64]
    without_lag: NDArray[np.float64] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """What is drawn of a run.

    Attributes
    ----------
    channels : sequence of Drawn
        Those without a value are left out.
    stages : sequence of StageRow
        Of the results.
    missed : frozenset of str
        Ids of the stages with a check that was not met.
    targets : sequence of Target
        Boxes behind the temperatures.
    pours_s : sequence of float
        Events [s].
    gaps : sequence of GapRow
        Ticks on the axis.
    """

    channels: Sequence[Drawn]
    stages: Sequence[StageRow]
    missed: frozenset[str] = frozenset()
    targets: Sequence[Target] = field(default_factory=tuple)
    pours_s: Sequence[float] = field(default_factory=tuple)
    gaps: Sequence[GapRow] = field(default_factory=tuple)

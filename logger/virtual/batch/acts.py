"""The words of a script: what the cook does and says, with its time.

Plain data; written by ``scenario``, acted out by ``physics`` and ``simulate``.
"""

from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from logger.virtual.batch.circumstances import Circumstances
from logger.virtual.bodies.loads import Load

Place = Literal["air", "fat", "water", "bath", "core"]
Word = tuple[float, str, dict[str, Any]]
"""Time [s], kind of event or command, its data."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StageSpan:
    """A stage of the sheet as it really ran [s]."""

    id: str
    kind: str
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PouredFat:
    """The pour: mass in the bowl over time, arrays of one length [s], [g]."""

    times_s: NDArray[np.float64]
    mass_g: NDArray[np.float64]

    @property
    def start_s(self) -> float:
        """When the first drop fell [s]."""
        return float(self.times_s[0])

    @property
    def end_s(self) -> float:
        """When the last drop fell [s]."""
        return float(self.times_s[-1])

    def time_of(self, share: float) -> float:
        """When a share of it, 0 to 1, was in [s]."""
        return float(np.interp(share * self.mass_g[-1], self.mass_g, self.times_s))

    def until(self, t_s: float) -> float:
        """Mass poured until a time [g]."""
        return float(np.interp(t_s, self.times_s, self.mass_g))


@dataclass(frozen=True, slots=True, kw_only=True)
class Dip:
    """One piece in the calcium bath: number from 1, times [s]."""

    piece: int
    in_s: float
    out_s: float


@dataclass(slots=True, kw_only=True)
class Script:
    """A whole batch.

    Attributes
    ----------
    bench, bowl : Load
        What happens on those scales; the bath scale is acted out by the physics.
    places : list of (t_s, probe, place)
        Where each probe is from that time on.
    surroundings : list of (t_s, name, temp_c, h_w_m2_k)
        What surrounds the piece with the core probe: name, temperature, heat transfer.
    words : list
        What the operator says, in time order.
    """

    circumstances: Circumstances
    stages: list[StageSpan] = field(default_factory=list)
    bench: Load = field(default_factory=Load)
    bowl: Load = field(default_factory=Load)
    bowl_span_s: tuple[float, float] = (0.0, 0.0)
    """From when to when the bowl stands on its scale."""
    bath_from_s: float = 0.0
    """When the bath is ready in its tray on the bath scale."""
    heat_span_s: tuple[float, float, float] = (0.0, 0.0, 0.0)
    """Start of heating, end of heating of the water, end of heating of the fat."""
    pour: PouredFat | None = None
    dips: list[Dip] = field(default_factory=list)
    drying_span_s: tuple[float, float] | None = None
    places: list[tuple[float, str, Place]] = field(default_factory=list)
    surroundings: list[tuple[float, str, float, float]] = field(default_factory=list)
    weighed_g: dict[str, float] = field(default_factory=dict)
    """True mass of each ingredient, by name."""
    words: list[Word] = field(default_factory=list)
    end_s: float = 0.0

    def stage(self, stage_id: str) -> StageSpan | None:
        """Return a stage by its id, or None."""
        return next((s for s in self.stages if s.id == stage_id), None)

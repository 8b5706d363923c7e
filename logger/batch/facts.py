"""What is known of a batch so far: pieces, what was weighed in, values typed by hand.

Plain data that one stage hands on to the next; filled by the watchers and by the engine, read by
the sheet arithmetic of this room.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

from logger.model.bench import Bench
from logger.model.reading import Reading
from logger.model.sheet import Sheet
from logger.science.fats.fats import Fat
from logger.science.gel.slabs import SlabTest


@dataclass(slots=True, kw_only=True)
class PieceFacts:
    """What is known of one formed piece; filled by form, coat and set in turn."""

    number: int
    bare_mass_g: float | None = None
    coat_mass_g: float | None = None
    coat_mm: float | None = None
    dwell_s: float | None = None
    set_fraction: float | None = None

    @property
    def coated_mass_g(self) -> float | None:
        """Mass as it goes into the bath [g]."""
        if self.bare_mass_g is None:
            return None
        return self.bare_mass_g + (self.coat_mass_g or 0.0)


@dataclass(slots=True, kw_only=True)
class BatchFacts:
    """Facts handed on from one stage to the next."""

    pieces: dict[int, PieceFacts] = field(default_factory=dict)
    """By piece number, from 1."""
    last: dict[str, Reading] = field(default_factory=dict)
    """Last reading with a value of each channel, by channel id; kept by the engine."""
    by_hand: dict[str, float] = field(default_factory=dict)
    """Values typed by the operator (event ``set_value``), by name; kept by the engine."""
    offsets_g: dict[str, float] = field(default_factory=dict)
    """What accepted tares add to the readings of a scale, by channel id; kept by
    ``logger.watch.sensors.tares``, added by the engine."""
    weighed_g: dict[str, float] = field(default_factory=dict)
    """Net mass of each ingredient that was weighed in, by name."""
    values: dict[str, float] = field(default_factory=dict)
    """Named results that a later stage needs, unit in the name: ``"poured_g"``..."""
    slabs: dict[str, SlabTest] = field(default_factory=dict)
    """Slab tests that the run is judged with, by folded name; kept by the engine."""


class Known(Protocol):
    """Where sheet arithmetic looks things up: the context of a watcher is one."""

    @property
    def sheet(self) -> Sheet:
        """The sheet of the run."""

    @property
    def bench(self) -> Bench:
        """The bench of the run."""

    @property
    def fats(self) -> Mapping[str, Fat]:
        """Fats by key."""

    @property
    def batch(self) -> BatchFacts:
        """What is known so far."""

    def channel_id(self, role: str) -> str | None:
        """Return the id of the bench's first channel with a role, or None."""

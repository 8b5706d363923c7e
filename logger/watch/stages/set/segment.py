"""A segment of a bath scale's trace: a level that lasts, and how the trace left it.

Pure values; made by ``immersion.segmentation``.
"""

from dataclasses import dataclass
from typing import NamedTuple

ANY_AGE_S = 1e9
"""Stands for a level whose drips are over long since, and for readings of any age [s]."""
HIDING_S = 4.0
"""A silence of this length hides that one piece went in and another came out [s]."""


class Swing(NamedTuple):
    """A short way of the level from where it lasts and back: a touch, or a piece and a touch.

    Attributes
    ----------
    from_s, to_s : float
        When it passed half of that way, first and last [s].
    by_g : float
        How far it went [g].
    """

    from_s: float
    to_s: float
    by_g: float


@dataclass(slots=True, kw_only=True)
class Segment:
    """A stretch of steady level, with the edge that leads to it.

    Attributes
    ----------
    start_s, end_s : float
        First and last reading in it [s].
    initial_g : float
        Level right after the edge [g].
    start_g, end_g : float
        Level once drips are over, and just before the next edge [g].
    u_start_g, u_end_g : float
        Their standard uncertainties, from noise and display step of the scale [g].
    level_age_s : float
        Age of the youngest reading behind `start_g`, from the edge on [s].
    edge_s : float
        When the level passed the middle of the edge before it [s].
    edge_from_s, edge_to_s : float
        The readings on both sides of that moment [s]; far apart where a gap hides it.
    early_s, late_s : float
        First and last moment that is about as likely as `edge_s` [s].
    rise_s : float
        Rise time of the edge, worked out from its middle half [s].
    span_s : float
        From the last steady reading before to the first one after [s].
    in_gap : bool
        The edge fell into a gap: only `edge_from_s` and `edge_to_s` are known.
    silent_s : float
        Longest silence of the scale between the two levels [s]; 0 where it was never silent. More
        than one piece may have gone in or out then.
    tared : bool
        The scale was tared at the edge.
    swings : tuple of Swing
        Those near either end of it.
    """

    start_s: float
    end_s: float
    initial_g: float
    start_g: float
    end_g: float
    u_start_g: float
    u_end_g: float
    level_age_s: float = ANY_AGE_S
    edge_s: float = 0.0
    edge_from_s: float = 0.0
    edge_to_s: float = 0.0
    early_s: float = 0.0
    late_s: float = 0.0
    rise_s: float = 0.0
    span_s: float = 0.0
    in_gap: bool = False
    silent_s: float = 0.0
    tared: bool = False
    swings: tuple[Swing, ...] = ()

    @property
    def hides(self) -> bool:
        """Whether a silence at its edge may hide a whole act."""
        return self.in_gap or self.silent_s >= HIDING_S

"""Rows of the bath's table: immersions with their other readings, and what else happened.

Pure values; made by ``immersion.table``.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """Another immersion that a row may be.

    Attributes
    ----------
    piece : int
        Number of the piece.
    out_s, dwell_s : float
        When it came out, and its dwell [s].
    probability : float
        Over all paths, 0 to 1.
    """

    piece: int
    out_s: float
    dwell_s: float
    probability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Immersion:
    """One piece in the bath.

    Attributes
    ----------
    number : int
        Row, in order of going in.
    piece : int
        Number of the piece; without registered masses pieces are numbered as they go in.
    in_s, out_s, dwell_s : float or None
        Times [s]. ``in_s`` is None when the piece was in the bath before the first reading or went
        in during a gap, ``out_s`` while it is in or when it left during a gap.
    in_between_s, out_between_s : tuple or None
        Where a gap hides the moment: the interval [s].
    dwell_between_s : tuple or None
        The dwell as an interval when either end is one [s]; of all plausible readings of the row
        where an end lies in one gap with those of other pieces.
    may_last_s : tuple or None
        Shortest and longest dwell of all plausible readings of the row, this one included [s];
        infinite where it may not have come out at all. None while it is in.
    mass_in_g, mass_out_g : float or None
        Steps of the scale, both positive [g].
    confidence : float
        Posterior probability of this row, 0 to 1.
    ambiguous : bool
        It is too uncertain to stand alone: see the candidates, or tap to say which.
    candidates : tuple of Candidate
        What else the row may be, most probable first.
    at_start : bool
        It was in the bath when recording began.
    lifted_s : tuple of float
        When it was dipped again after a lift [s].
    by_hand : bool
        Entered by the operator, not seen by the scale.
    """

    number: int
    piece: int
    in_s: float | None
    out_s: float | None
    dwell_s: float | None
    mass_in_g: float | None = None
    mass_out_g: float | None = None
    confidence: float = 1.0
    ambiguous: bool = False
    candidates: tuple[Candidate, ...] = ()
    at_start: bool = False
    in_between_s: tuple[float, float] | None = None
    out_between_s: tuple[float, float] | None = None
    dwell_between_s: tuple[float, float] | None = None
    may_last_s: tuple[float, float] | None = None
    lifted_s: tuple[float, ...] = ()
    by_hand: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherChange:
    """A lasting change that no piece explains: poured in, ladled out, an object.

    Attributes
    ----------
    t_s : float
        When [s].
    change_g : float
        Change of level [g].
    """

    t_s: float
    change_g: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HiddenRise:
    """A rise or fall across a gap that no piece explained when it was looked at by itself.

    Attributes
    ----------
    from_s, to_s : float
        Last and first reading on its sides [s].
    rise_g : float
        By how much the level rose [g]; below 0 where it fell.
    """

    from_s: float
    to_s: float
    rise_g: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BathTable:
    """All immersions so far and the other lasting changes."""

    immersions: tuple[Immersion, ...] = ()
    others: tuple[OtherChange, ...] = ()
    hidden: tuple[HiddenRise, ...] = ()
    silences_s: tuple[tuple[float, float], ...] = ()
    """From when to when the scale was silent for so long that it hides a whole act [s]."""
    drag_g: float | None = None
    """Liquid that leaves with a piece, as estimated from this run [g]."""

"""What happens at a bath, in the words of the immersion reader: deeds, pieces held, states.

Plain values; `ways` tells them, `lattice` strings them together.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from typing import NamedTuple


class Held(NamedTuple):
    """A piece in the bath.

    Its label, the place of the plateau whose edge it came in with, and by how much the level should
    fall when it leaves, drag apart [g].
    """

    piece: int
    edge: int
    mass_g: float
    u_g: float


class Deed(NamedTuple):
    """Something that happened: ``in``, ``out``, ``lift``, ``other``, ``touch`` or ``tare``."""

    what: str
    piece: int
    edge: int
    in_edge: int


State = tuple[tuple[Held, ...], frozenset[int]]
Way = tuple[float, tuple[Deed, ...], State]


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """What the operator and the sheet say.

    Attributes
    ----------
    masses_g : dict
        Registered mass by piece number; empty when none is known.
    pieces : int or None
        How many pieces there are, if known.
    outs : dict
        Piece that left with the edge of a plateau, by the plateau's place: said by the operator.
    ins : dict
        The same for pieces that went in.
    ended : bool
        No reading will follow.
    """

    masses_g: dict[int, float]
    pieces: int | None = None
    outs: dict[int, int] = field(default_factory=dict)
    ins: dict[int, int] = field(default_factory=dict)
    ended: bool = False


def next_in_turn(pieces: Iterable[int], seen: Collection[int]) -> set[int]:
    """Numbers whose turn it is along the tray: the lowest left, and the next after the highest."""
    left = [piece for piece in pieces if piece not in seen]
    above = [piece for piece in left if piece > max(seen, default=0)]
    return {min(left), min(above, default=min(left))}


def with_piece(state: State, piece: Held) -> State:
    """Return the state once a piece has gone in."""
    held, seen = state
    return tuple(sorted((*held, piece))), seen | {piece.piece}


def without_piece(state: State, deed: Deed) -> State:
    """Return the state once a piece has come out."""
    held, seen = state
    return tuple(piece for piece in held if piece.piece != deed.piece), seen | {deed.piece}

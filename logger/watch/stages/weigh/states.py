"""What a weighing may have come to: the states, changes and acts of the hypotheses.

Plain values; made by `hypotheses`, kept by `assignment`.
"""

from dataclasses import dataclass
from typing import Literal, NamedTuple

Pan = Literal["unknown", "empty", "vessel", "food"]
"""What lies on the scale; unknown at the start, where a display of nought may hide a tared bowl."""
NONE = -1
"""No ingredient."""
_LEAST_SD_STEPS, _HASTY_SD_STEPS = 1.0, 3.0
"""Least standard deviation of a level that comes back, at rest and not, in display steps [1]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """An ingredient that may come: target and standard deviation of a careful weighing [g]."""

    name: str
    target_g: float
    aimed_sd_g: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """From one level to a later one; indices of the two, their levels [g], and how it came.

    Attributes
    ----------
    first, last : int
        Indices of the levels; more than one apart, what lies between was passing.
    from_g, to_g : float
        The display, without what is known to be no load [g].
    between_g : float or None
        A passing level between the two [g].
    between_s : float
        How long it lasted [s].
    jumps : tuple of bool or None
        Whether the display jumped to that, and from it.
    shift_g : float
        Known change of the display that is no load [g].
    instant : bool or None
        Whether the display jumped.
    zeroed_g : float
        Within so much of nought the display fell in one reading; 0 where it did not [g].
    tared, in_gap, hasty, outside : bool
        Tare told by the instrument; no readings between; not at rest at its end; no stage of
        weighing under way.
    step_g, zero_g : float
        Display step; how near nought is nought [g].
    """

    first: int
    last: int
    from_g: float
    to_g: float
    between_g: float | None = None
    between_s: float = 0.0
    jumps: tuple[bool | None, ...] = ()
    shift_g: float = 0.0
    instant: bool | None = None
    tared: bool = False
    zeroed_g: float = 0.0
    in_gap: bool = False
    hasty: bool = False
    outside: bool = False
    step_g: float = 0.1
    zero_g: float = 0.15

    @property
    def net_g(self) -> float:
        """Change of load, were it no tare [g]."""
        return self.to_g - self.from_g - self.shift_g

    @property
    def sd_g(self) -> float:
        """Standard deviation of a level that comes back [g]."""
        steps = _HASTY_SD_STEPS if self.hasty else _LEAST_SD_STEPS
        return max(steps * self.step_g, 1e-4 * abs(self.to_g))


class Act(NamedTuple):
    """One act of a hypothesis, and those before it.

    Attributes
    ----------
    before : Act or None
        The act before.
    what : str
        ``add``, ``out``, ``vessel``, ``off``, ``tare``, ``foreign`` or ``nothing``.
    ingredient : int
        Of an ``add`` or ``out``; else `NONE`.
    first, last : int
        Indices of the levels.
    mass_g : float
        What the ingredient gained [g].
    """

    before: "Act | None"
    what: str
    ingredient: int
    first: int
    last: int
    mass_g: float = 0.0

    def __deepcopy__(self, memo: dict[int, object]) -> "Act":
        """Return itself: it never changes."""
        return self


class Hypothesis(NamedTuple):
    """One reading of everything on the scale so far: a tuple, as a weighing makes a million.

    Attributes
    ----------
    masses_g : tuple of float
        Of each ingredient so far [g].
    log_weight : float
        Logarithm of its weight but for the masses [1].
    mass_log_weight : float
        That of the masses, each as if complete [1].
    current : int
        Ingredient of the last portion, or `NONE`.
    signal : bool
        A mark, a tare or an empty pan came since the last load.
    pan : str
        What lies on the scale.
    empty_g : float or None
        What the display shows with nothing on the scale [g], where it is known.
    fresh : bool
        Nothing was put in since the vessel came: it may be a jar to take from.
    from_jar : bool
        The last portion was taken out of a jar.
    after_vessel : bool
        The last load was a vessel.
    vessel_g : float or None
        The last vessel [g].
    in_turn, signalled : tuple of int
        Ingredients begun in turn and out of turn; begun after a signal and without.
    acts : Act or None
        The last act.
    """

    masses_g: tuple[float, ...]
    log_weight: float = 0.0
    mass_log_weight: float = 0.0
    current: int = NONE
    signal: bool = False
    pan: Pan = "unknown"
    empty_g: float | None = None
    fresh: bool = True
    from_jar: bool = False
    after_vessel: bool = False
    vessel_g: float | None = None
    in_turn: tuple[int, int] = (0, 0)
    signalled: tuple[int, int] = (0, 0)
    acts: Act | None = None

    def __deepcopy__(self, memo: dict[int, object]) -> "Hypothesis":
        """Return itself: it never changes."""
        return self

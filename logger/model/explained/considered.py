"""Candidate causes of a run that were looked at, with the numbers that were looked at for each.

Plain values; made by logger.review.why.considered, printed by ``explain --json``.
"""

from dataclasses import dataclass
from typing import Literal

Standing = Literal["named", "weak", "ruled out", "open"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """One sign of a candidate, and what the run shows of it.

    Attributes
    ----------
    what, of, direction : str
        The sign, as the knowledge names it: ``feature``, ``fat_at_pour_c``, ``low``.
    strength : float or None
        0 (measured, not shown) to 1; None where it could not be told.
    value, expanded_uncertainty : float or None
        What was measured, in `unit`; None where it is no number, or not known.
    low, high : float or None
        Limits, or where good runs lie [`unit`].
    says : str
        In words; where it could not be told, why.
    """

    what: str
    of: str
    direction: str
    strength: float | None
    value: float | None = None
    expanded_uncertainty: float | None = None
    unit: str = ""
    low: float | None = None
    high: float | None = None
    says: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Considered:
    """One candidate.

    Attributes
    ----------
    cause, title : str
        Its id in the knowledge, and its words.
    fits : tuple of str
        Defects of the run that it leads to.
    standing : str
        ``named`` among the causes; ``weak``: a sign of it is there, too little to name it;
        ``ruled out`` by what was measured; ``open``: what would tell was not measured.
    why : str
        The number that decides, in words.
    score : float or None
        That of the cause, where it is among the causes.
    looked : tuple of Looked
        All its signs; those that decide first.
    """

    cause: str
    title: str
    fits: tuple[str, ...]
    standing: Standing
    why: str
    score: float | None
    looked: tuple[Looked, ...]

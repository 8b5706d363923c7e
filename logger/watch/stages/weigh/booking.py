"""What an assignment of loads to ingredients comes to: portions, bookings, a question.

Pure values.
"""

from dataclasses import dataclass

from logger.model.rows import SURE_WEIGHED


@dataclass(frozen=True, slots=True, kw_only=True)
class Portion:
    """A part of an ingredient: indices of the levels before and after it, and its mass [g]."""

    first: int
    last: int
    mass_g: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Booking:
    """What was weighed in of one ingredient, by the likeliest hypothesis.

    Attributes
    ----------
    ingredient : int
        Place among the wanted ones.
    mass_g : float
        In all [g].
    confidence : float
        Probability that it is this mass [1].
    portions : tuple of Portion
        In order of time.
    closed : bool
        Whether no more is expected: it was marked or tared, or another one followed.
    """

    ingredient: int
    mass_g: float
    confidence: float
    portions: tuple[Portion, ...]
    closed: bool

    @property
    def sure(self) -> bool:
        """Whether it may be judged."""
        return self.confidence >= SURE_WEIGHED


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What only the operator can tell: whether the load that ends at a level was an ingredient.

    Attributes
    ----------
    ingredient : int
        Place among the wanted ones.
    level : int
        Index of the level at which the load ends.
    mass_g : float
        What the ingredient would weigh in all [g].
    whole : bool
        Which ingredient it was is known; whether the mass is all of it is asked.
    """

    ingredient: int
    level: int
    mass_g: float
    whole: bool = False

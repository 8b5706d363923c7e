"""Several runs with one defect: each number of each run, and which runs are unlike the others.

Plain values; made by logger.review.why.group, printed by ``explain RUN RUN... --json``.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupPoint:
    """The number of one run.

    Attributes
    ----------
    value, u : float or None
        Number and standard uncertainty [unit of the number]; None where not had or not known.
    p : float or None
        Chance of lying that far from the other runs of the group [1], raised for all that was
        looked at; None with fewer than three others.
    far_off : bool
        Whether that chance is below 5 %.
    """

    run: str
    value: float | None
    u: float | None
    p: float | None
    far_off: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupNumber:
    """One number over the runs of a group.

    Attributes
    ----------
    name, label, unit : str
        As in ``compare --json``.
    points : tuple of GroupPoint
        One for each run, in the order asked.
    median, low, high : float or None
        Of the group, and where a next run of it would lie with 95 %; None with fewer than three.
    good_median, good_low, good_high : float or None
        The same of the good runs.
    p : float or None
        Chance that group and good runs differ as much by chance (exact rank sums) [1], raised for
        all numbers; None where either has none.
    """

    name: str
    label: str
    unit: str
    points: tuple[GroupPoint, ...]
    median: float | None
    low: float | None
    high: float | None
    good_median: float | None
    good_low: float | None
    good_high: float | None
    p: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupCause:
    """A cause that is named first for some runs of a group; an empty id where none is."""

    cause: str
    title: str
    runs: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Several runs with one defect.

    Attributes
    ----------
    defects : tuple of str
        Those that all runs share.
    numbers : tuple of GroupNumber
        Surest difference from the good runs first.
    causes : tuple of GroupCause
        Most runs first: a group often has several causes, which its means hide.
    far_off : tuple of str
        Runs with a number far off those of the other runs.
    says : str
        In a sentence or two.
    """

    runs: tuple[str, ...]
    defects: tuple[str, ...]
    numbers: tuple[GroupNumber, ...]
    causes: tuple[GroupCause, ...]
    far_off: tuple[str, ...]
    says: str

"""What a kind of stage is: one record that every room asks, so that none keeps a list of kinds.

Plain values, filled in by the modules of the kinds. A room asks for a trait, never for a name.
"""

from dataclasses import dataclass
from typing import Literal

from logger.model.bench import SCALE_ROLES, Role
from logger.model.errors import UndeclaredKeyError
from logger.model.kinds.record.stage import StageBase

Taken = Literal[
    "length", "core at the end", "highest core", "cores at the end apart", "highest cores apart"
]
"""Figures that any kind can have: how long the stage took, the median of the core's last readings,
the highest core; and how far these two differ between several core probes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """A sensor that stages of a kind use.

    Attributes
    ----------
    role : str
        Its role on the bench.
    target : str or None
        Field of the stage that holds its target; drawn with its trace.
    needed : bool
        Whether its silence calls for action at once while such a stage is under way.
    in_plan : bool
        Whether the plan shows its target in a row of its own.
    """

    role: Role
    target: str | None = None
    needed: bool = True
    in_plan: bool = False


OWN = "own"
"""In place of a role: the channel that the finding names."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One comparison with a target that stages of a kind end with.

    Attributes
    ----------
    key : str
        Stable name, unit at its end: ``"coat.mass_g"``. Files and rooms know the check by it;
        ``logger.words.labels`` says what a person reads.
    unit : str
        As in ``model.state.Number``.
    subject : str
        What tells several of them apart, such as ``"ingredient"``; empty where there is one.
    sensors : tuple of str
        Whose uncertainty the value carries: roles, or `OWN`; empty for a time, a count.
    """

    key: str
    unit: str
    subject: str = ""
    sensors: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One number by which runs are compared.

    Attributes
    ----------
    name : str
        Unique in the house, unit at its end: ``"fat_at_pour_c"``.
    label : str
        What a cook calls it.
    unit : str
        As in ``model.state.Number``.
    least : float
        Ordinary standard deviation between good batches of one cook, in `unit` (common practice,
        no source).
    target : str or None
        Field of the stage that holds its target. A limit of each piece is the target of the
        smallest and the largest, never of their mean.
    taken : str or None
        How it is taken where any kind can have it; None where the kind's own module in
        ``logger.review.features.kinds`` takes it.
    judged_by : str or None
        Key of the check that it has its uncertainty from.
    """

    name: str
    label: str
    unit: str
    least: float
    target: str | None = None
    taken: Taken | None = None
    judged_by: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of stage.

    Attributes
    ----------
    name : str
        As the sheet writes it.
    model : type
        Its table in the sheet.
    title : str
        What a stage without a title is called.
    example : str
        A stage of the kind as a sheet writes it.
    uses : tuple of Use
        Sensors; the first scale among them is the one drawn.
    figures : tuple of Figure
        Numbers by which runs are compared.
    checks : tuple of Check
        What its stages are judged by.
    own_channel_target : str or None
        Field with the target of the channel that such a stage names in ``channel``.
    grows : tuple of str
        Fields with a mass that grows with the batch.
    rule_sets : str or None
        Which published rule sets its ``rule_set`` names.
    in_batch : bool
        Whether it is part of making a batch; one that is not only learns about a material.
    in_first_sheet : bool
        Whether the sheet to begin with has it.
    weighs_in : bool
        Whether ingredients are weighed in.
    tares : bool
        Whether the tare key is part of the work: a zero of the scale is no news.
    heats_or_chills : bool
        Whether it heats or chills on purpose: an emulsion is no longer followed.
    coats : bool
        Whether pieces get their coat.
    has_board : bool
        Whether pieces go in and out one by one, on a board.
    hazard : str
        What can hurt in its stages, in a few words; the screen's line above its cautions.
    leaves_wet, dries : bool
        Whether pieces come out wet, and whether their surface is dried.
    """

    name: str
    model: type[StageBase]
    title: str
    example: str
    uses: tuple[Use, ...] = ()
    figures: tuple[Figure, ...] = ()
    checks: tuple[Check, ...] = ()
    own_channel_target: str | None = None
    grows: tuple[str, ...] = ()
    rule_sets: Literal["cooling", "holding"] | None = None
    in_batch: bool = True
    in_first_sheet: bool = False
    weighs_in: bool = False
    tares: bool = False
    heats_or_chills: bool = False
    coats: bool = False
    has_board: bool = False
    hazard: str = ""
    leaves_wet: bool = False
    dries: bool = False

    def __post_init__(self) -> None:
        keys = [check.key for check in self.checks]
        for key in keys:
            if keys.count(key) > 1 or key.partition(".")[0] != self.name:
                raise UndeclaredKeyError(key, f"a key of its own, {self.name}.<quantity>")
        for figure in self.figures:
            if figure.judged_by is not None and figure.judged_by not in keys:
                raise UndeclaredKeyError(
                    figure.judged_by, f"a check of kind {self.name!r} for its figure {figure.name}"
                )

    @property
    def word(self) -> str:
        """The kind in one word, for where there is no room for a title."""
        return self.name.replace("_", " ").capitalize()

    @property
    def tracks_core(self) -> bool:
        """Whether a probe is in the core: its time in the danger zone counts."""
        return any(use.role == "core" for use in self.uses)

    @property
    def keeps_limits(self) -> bool:
        """Whether its limits of hygiene and holding are never changed by what is learned from runs:
        that a batch came out well says nothing about them."""
        return self.tracks_core or self.rule_sets is not None

    @property
    def scale(self) -> Role | None:
        """Role of the scale that matters in it."""
        return next((use.role for use in self.uses if use.role in SCALE_ROLES), None)

    @property
    def needed_roles(self) -> tuple[Role, ...]:
        """Roles whose silence calls for action at once."""
        return tuple(use.role for use in self.uses if use.needed)

    def target_of(self, role: str) -> str | None:
        """Return the field with the target of a role, or None."""
        return next((use.target for use in self.uses if use.role == role), None)

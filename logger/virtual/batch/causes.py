"""Root causes that the virtual bench can inject, by name, with the defect each leads to.

Plain data; ``circumstances`` says what each one changes, ``judge`` finds the defects again from
what physically came out. Nothing here is known to the engine or to the review.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from logger.model.errors import InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class RootCause:
    """One thing that goes wrong in a batch.

    Attributes
    ----------
    says : str
        What the cook did or had, in plain words.
    stage : str
        Stage of the sheet in which it happens.
    defect : str
        Defect that comes out of it; one of the sheet's list.
    short : bool
        Whether the short batch has the stage that it needs.
    """

    says: str
    stage: str
    defect: str
    short: bool = True


CAUSES: dict[str, RootCause] = {
    "fat_too_cool": RootCause(
        says="the fat was barely melted when it was poured", stage="warm", defect="grainy"
    ),
    "water_too_cold": RootCause(
        says="the water phase was hardly warmed", stage="warm", defect="broken emulsion"
    ),
    "pour_too_fast": RootCause(
        says="the fat went in far too fast", stage="combine", defect="broken emulsion"
    ),
    "probe_swapped": RootCause(
        says="the fat and water probes stood in each other's vessel",
        stage="warm",
        defect="broken emulsion",
    ),
    "hydrate_mistaken": RootCause(
        says="the calcium chloride was the hexahydrate, weighed as if anhydrous",
        stage="skin",
        defect="skin too thin",
    ),
    "bath_exhausted": RootCause(
        says="the bath was kept from earlier batches", stage="skin", defect="skin too thin"
    ),
    "thick_coat": RootCause(
        says="the alginate coat was twice as thick as planned",
        stage="skin",
        defect="skin too thin",
    ),
    "short_dwell": RootCause(
        says="the pieces came out of the bath too early", stage="skin", defect="skin too thin"
    ),
    "long_dwell": RootCause(
        says="the pieces were forgotten in the bath", stage="skin", defect="skin tough"
    ),
    "cold_bath": RootCause(
        says="the bath came straight out of the fridge", stage="skin", defect="skin too thin"
    ),
    "another_fat": RootCause(
        says="coconut fat stood in for cocoa butter", stage="warm", defect="too soft"
    ),
    "too_much_fat": RootCause(
        says="half as much fat again was weighed in", stage="combine", defect="greasy"
    ),
    "short_hydration": RootCause(
        says="the binder had no time to take up water",
        stage="soak",
        defect="leaking",
        short=False,
    ),
    "short_chill": RootCause(
        says="the pieces were coated while still warm",
        stage="firm",
        defect="greasy",
        short=False,
    ),
    "uneven_coat": RootCause(
        says="some pieces got a thin coat and some a thick one",
        stage="coat",
        defect="skin burst",
        short=False,
    ),
    "short_drying": RootCause(
        says="the pieces went wet into the pan", stage="air", defect="skin burst", short=False
    ),
}
"""By name. The words are those of the truth and of ``--cause``."""
PIECE_CAUSES: dict[str, RootCause] = {
    "one_late_piece": RootCause(
        says="one piece was forgotten in the bath", stage="skin", defect="skin tough"
    ),
    "cold_side_of_bath": RootCause(
        says="two pieces hung at the cold side of the bath", stage="skin", defect="skin too thin"
    ),
}
"""What goes wrong with some pieces only, by name."""


def check_causes(names: Iterable[str], *, short: bool = False) -> tuple[str, ...]:
    """Return the names, each once, in the order given.

    Parameters
    ----------
    names : iterable of str
        Keys of `CAUSES` or `PIECE_CAUSES`.
    short : bool
        Whether the batch is the short one.

    Raises
    ------
    InputError
        If a name is unknown, or needs a stage that the short batch does not have.
    """
    every = CAUSES | PIECE_CAUSES
    known = [name for name, cause in every.items() if cause.short or not short]
    kept: list[str] = []
    for name in names:
        if name not in known:
            has = (
                "the short batch has no stage for it"
                if name in every
                else "there is no cause of that name"
            )
            raise InputError(f"cause {name!r}", has, f"give one of {', '.join(known)}")
        if name not in kept:
            kept.append(name)
    return tuple(kept)

"""Shares of the rows, and warnings each at its table and field.

Pure. A share is given only while all of the amounts can be told.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from logger.model.errors import InputError
from logger.model.recipe.flatten import FOOD, entry_masses_g
from logger.model.sheet import WrittenSheet
from logger.model.written import AtKeyError

_AT = re.compile(
    r"(?P<table>ingredient|stage|sheet|subrecipe|vessel|result)(?:\[(?P<number>\d+)\])?"
    r"(?:\.(?P<inner>alternative|ingredient)\[(?P<within>\d+)\])?(?:\.(?P<keys>.+))?"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """What a row comes to.

    Attributes
    ----------
    mass_g : float or None
        Its mass [g]; None to taste.
    of_phase_percent, of_batch_percent : float or None
        Of its phase, and of what is eaten [%]; the latter is None for what is not.
    """

    mass_g: float | None = None
    of_phase_percent: float | None = None
    of_batch_percent: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Warned:
    """What is wrong at a place of the form.

    Attributes
    ----------
    table : str
        Such as ``ingredient`` or ``subrecipe.ingredient``; empty where the form has no such place.
    place : int
        Counted from zero; of a table inside another, that other's.
    inner : int
        Place inside the other, -1 for a table that is in none.
    path : tuple of str
        Keys below the table; empty for all of it.
    wrong : InputError
        What was found and what would do.
    """

    table: str
    place: int
    path: tuple[str, ...]
    wrong: InputError
    inner: int = -1


def shares_of(written: WrittenSheet) -> tuple[Share, ...]:
    """Return what each ingredient comes to; none of a sheet whose amounts can't be told."""
    try:
        masses = entry_masses_g(written.ingredient, written.sheet.batch_g)
    except AtKeyError:
        return ()
    phases = [one.phase for one in written.ingredient]
    whole_g = _sum(m for m, phase in zip(masses, phases, strict=True) if phase in FOOD)
    found = []
    for mass_g, phase in zip(masses, phases, strict=True):
        phase_g = _sum(m for m, own in zip(masses, phases, strict=True) if own == phase)
        if mass_g is None:
            found.append(Share())
            continue
        of_batch = 100.0 * mass_g / whole_g if phase in FOOD else None
        share = 100.0 * mass_g / phase_g
        found.append(Share(mass_g=mass_g, of_phase_percent=share, of_batch_percent=of_batch))
    return tuple(found)


def _sum(masses: Iterable[float | None]) -> float:
    return sum(mass for mass in masses if mass is not None)


def warned(wrongs: Sequence[InputError], name: str) -> tuple[Warned, ...]:
    """Return what is wrong, each with its place in the form.

    Parameters
    ----------
    wrongs : sequence of InputError
        Of the sheet as it is written.
    name : str
        What they call the sheet.
    """
    return tuple(_placed(wrong, name) for wrong in wrongs)


def _placed(wrong: InputError, name: str) -> Warned:
    path = wrong.where.removeprefix(name).removeprefix(": ")
    at = _AT.fullmatch(path)
    if at is None:
        return Warned(table="", place=0, path=(), wrong=wrong)
    said = re.sub(r"\[\d+\]$", "", at["keys"] or "")  # one of a list is wrong in the field of all
    keys = tuple(said.split(".")) if said else ()
    table = f"{at['table']}.{at['inner']}" if at["inner"] else at["table"]
    if table in ("ingredient", "subrecipe.ingredient") and keys == ("mass",):
        keys = ("amount",)
    place, inner = int(at["number"] or 1) - 1, int(at["within"] or 0) - 1
    return Warned(table=table, place=place, path=keys, wrong=wrong, inner=inner)

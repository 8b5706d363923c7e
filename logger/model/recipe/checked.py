"""A sheet's text read as far as it goes: all that is wrong with it at once, each at its key.

Pure; for the form and the text on the page of sheets. What follows from another fault is not told:
an amount that does not read is wrong, the sum that it counts in is unknown.
"""

import copy
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from logger.model.errors import InputError
from logger.model.files import at_key, in_order, table_of, told
from logger.model.recipe.made import NO_AMOUNT
from logger.model.recipe.wrongs import recipe_wrongs
from logger.model.sheet import Sheet, WrittenSheet, as_weighed
from logger.model.written import BY_HAND, AtKeyError

MOST_WRONGS = 50
"""Most wrongs of a sheet that are told at once."""
_STAND_INS = {"name": "?", "phase": "filling"}
"""What stands for a key that is missing, so that the rest can be looked at."""
_OF_AMOUNT = ("amount", "mass", "density", "phase", "name")
"""Keys of an ingredient without which nothing is known of its amount."""
_ROUNDS = 3
"""A key that is left out may then be missing, and is stood in for."""


def sheet_wrongs(text: str, name: str) -> list[InputError]:
    """Return all that is wrong with a batch sheet, what to correct first ahead; none if it reads.

    Parameters
    ----------
    text : str
        TOML, perhaps half typed.
    name : str
        What messages call it.
    """
    return list(checked_sheet(text, name).wrongs)


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedSheet:
    """A sheet's text, read once: as it is written and as it is weighed, and what is wrong.

    Attributes
    ----------
    written : WrittenSheet or None
        None unless every value reads.
    in_part : WrittenSheet or None
        The same where some values do not read, without them; None if that is too little.
    sheet : Sheet or None
        None while anything is wrong.
    wrongs : tuple of InputError
        What to correct first ahead.
    """

    written: WrittenSheet | None = None
    in_part: WrittenSheet | None = None
    sheet: Sheet | None = None
    wrongs: tuple[InputError, ...] = ()


def checked_sheet(text: str, name: str) -> CheckedSheet:
    """Read a batch sheet as far as it goes.

    Parameters
    ----------
    text : str
        TOML, perhaps half typed.
    name : str
        What messages call it.
    """
    try:
        data = table_of(text, name)
    except InputError as cause:
        return CheckedSheet(wrongs=(cause,))
    try:
        written = WrittenSheet.model_validate(data, context={BY_HAND: True})
    except ValidationError as cause:
        wrongs = [told(cause, e, data, name, WrittenSheet) for e in in_order(cause)]
        return _in_part(data, name, [*wrongs, *_no_amounts(data, name)])
    try:
        return CheckedSheet(written=written, sheet=as_weighed(written))
    except AtKeyError as cause:
        own = {one.key: one for one in (*_of_recipe(written, ()), cause)}
        found = [at_key(one, name) for one in own.values()]
        return CheckedSheet(written=written, wrongs=tuple(found[:MOST_WRONGS]))


def _of_recipe(written: WrittenSheet, left_out: Sequence[str]) -> list[AtKeyError]:
    keys = {key.rpartition(".")[2] for key in left_out}
    sheet = written.sheet
    return recipe_wrongs(written.ingredient, written.subrecipe, sheet.batch_g, left_out=keys)


def _in_part(data: dict[str, Any], name: str, wrongs: list[InputError]) -> CheckedSheet:
    """Add to what is wrong with single values what is wrong beside them."""
    left, left_out = copy.deepcopy(data), list[str]()
    for _ in range(_ROUNDS):
        try:
            written = WrittenSheet.model_validate(left, context={BY_HAND: True})
        except ValidationError as cause:
            gone = [_leave_out(left, error) for error in cause.errors()]
            if None in gone:
                break
            left_out += [key for key in gone if key is not None]
            continue
        known = {one.where for one in wrongs}
        more = [one for one in _of_recipe(written, left_out) if not _follows(one, left_out)]
        found = [at_key(one, name) for one in more]
        wrongs = [*wrongs, *(one for one in found if one.where not in known)]
        return CheckedSheet(in_part=written, wrongs=tuple(wrongs[:MOST_WRONGS]))
    return CheckedSheet(wrongs=tuple(wrongs[:MOST_WRONGS]))


def _leave_out(left: dict[str, Any], error: Any) -> str | None:
    """Take what is wrong out of a sheet; return its key, or None where that can't be done."""
    loc = list(error["loc"])
    if not loc or loc[0] in ("stage", "vessel", "result"):
        for table in loc[:1] or ["stage", "result"]:
            left.pop(table, None)
        return str(loc[0]) if loc else "stage"
    row: Any = left
    path = ""
    while isinstance(row, dict) and loc and loc[0] in ("sheet", "ingredient", "subrecipe"):
        inner: Any = row.get(loc[0])
        many = isinstance(inner, list) and len(loc) > 1 and isinstance(loc[1], int)
        if not many and not isinstance(inner, dict):
            break
        path += f"{loc[0]}[{loc[1] + 1}]." if many else f"{loc[0]}."
        row = inner[loc[1]] if many else inner
        loc = loc[2:] if many else loc[1:]
    if not isinstance(row, dict):
        return None
    cause = error.get("ctx", {}).get("error")
    key = str(loc[0]) if loc else cause.key if isinstance(cause, AtKeyError) else ""
    if error["type"] == "missing" and key in _STAND_INS:
        row[key] = _STAND_INS[key]
    elif key in row:
        del row[key]
    else:
        return None
    return path + key


def _follows(wrong: AtKeyError, left_out: Sequence[str]) -> bool:
    """Return whether an amount is missed only because something of its ingredient is left out."""
    row, _, key = wrong.key.rpartition(".")
    return key in ("amount", "mass") and any(f"{row}.{one}" in left_out for one in _OF_AMOUNT)


def _no_amounts(data: dict[str, Any], name: str) -> list[InputError]:
    """Return which ingredients say nothing of how much, while other things are wrong."""
    written = data.get("ingredient")
    tables = enumerate(written, start=1) if isinstance(written, list) else ()
    return [
        InputError(f"{name}: ingredient[{place}].mass", *NO_AMOUNT)
        for place, one in tables
        if isinstance(one, dict) and "mass" not in one and "amount" not in one
    ]

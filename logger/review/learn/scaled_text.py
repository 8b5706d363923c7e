"""Another size of a sheet in its own text: comments, order, units and percents stay.

Pure. Masses and volumes of the batch are multiplied where they stand; percents, ranges of percents
and the amounts of sub-recipes are shares and stay.
"""

import re
from collections.abc import Iterator
from typing import Any

from logger.batch.text_edits import Edit, edited
from logger.model.files import sheet_from_text, table_of
from logger.model.kinds.registry import Stage
from logger.model.recipe.amount import amount_of
from logger.review.learn.sheets import Scaled, scaled

_NUMBER = re.compile(r"[0-9]*\.?[0-9]+(?:[eE][-+]?[0-9]+)?")
_FIGURES = 4


def scaled_text(text: str, name: str, factor: float) -> tuple[str, Scaled]:
    """Return the text of a sheet for another batch size, and what scaling could not decide.

    Parameters
    ----------
    text : str
        The sheet.
    name : str
        Its file, for messages.
    factor : float
        New mass over old [1], above 0.

    Raises
    ------
    InputError
        If the text is no sheet.
    OutOfRangeError
        If the factor is not positive.
    """
    before, raw = sheet_from_text(text, name), table_of(text, name)
    found = scaled(before, factor)
    head = found.sheet.sheet
    edits = [
        Edit(path=("sheet", "revision"), value=head.revision),
        Edit(path=("sheet", "change"), value=head.change),
        *(
            Edit(path=("sheet", key), value=_times(raw["sheet"][key], factor))
            for key in ("batch", "yield")
            if key in raw["sheet"]
        ),
    ]
    for place, table in enumerate(raw.get("ingredient", [])):
        if "mass" in table:
            edits.append(
                Edit(path=("ingredient", place, "mass"), value=_times(table["mass"], factor))
            )
        elif amount_of(table["amount"]).unit in ("g", "ml"):
            edits.append(
                Edit(path=("ingredient", place, "amount"), value=_times(table["amount"], factor))
            )
    for place, (old, new) in enumerate(zip(before.stage, found.sheet.stage, strict=True)):
        edits += _of_stage(place, old, new, raw["stage"][place], factor)
    return edited(text, name, edits), found


def _of_stage(
    place: int, old: Stage, new: Stage, raw: dict[str, Any], factor: float
) -> Iterator[Edit]:
    """Give the edits of what a size changes in a stage: a count, a band of masses, a list."""
    for field, info in type(old).model_fields.items():
        key = info.alias or field
        if getattr(old, field) == getattr(new, field) or key not in raw:
            continue
        found = raw[key]
        if isinstance(found, int):
            yield Edit(path=("stage", place, key), value=getattr(new, field))
        elif isinstance(found, dict):
            for end in found.keys() & {"low", "high"}:
                yield Edit(path=("stage", place, key, end), value=_times(found[end], factor))
        else:
            yield Edit(path=("stage", place, key), value=None)


def _times(amount: str, factor: float) -> str:
    """Return a quantity with each of its numbers multiplied, in its own unit."""

    def more(number: re.Match[str]) -> str:
        return f"{float(f'{float(number[0]) * factor:.{_FIGURES}g}'):.10g}"

    return _NUMBER.sub(more, amount)

"""What a review may know beside the sheet: fats, and slab tests of a person's own alginates; and
whether what a sheet names is among it.

Pure; the text of the person's file is handed in. For callers that may not reach the science rooms.
"""

from collections.abc import Mapping
from dataclasses import replace

from logger.batch.names import wrong_in_part, wrong_names
from logger.model.recipe.checked import MOST_WRONGS, CheckedSheet, checked_sheet
from logger.science.fats.fatfile import builtin_fats, fats_from_toml
from logger.science.fats.fats import Fat
from logger.science.gel.slabs import SlabTest, slabs_from_toml

Fats = Mapping[str, Fat]
"""Fats by key."""
Slabs = Mapping[str, SlabTest]
"""Latest slab test of each alginate, by folded name."""


def known_fats(own_text: str | None, name: str = "fats.toml") -> Fats:
    """Return the fats by key.

    Parameters
    ----------
    own_text : str or None
        Text of a ``fats.toml``; None is none.
    name : str
        What a message calls it.

    Raises
    ------
    InputError
        If the text does not read.
    """
    built_in = builtin_fats()
    return built_in if own_text is None else fats_from_toml(own_text, name, built_in)


def checked(text: str, name: str, fats: Mapping[str, Fat]) -> CheckedSheet:
    """Read the text of a sheet once, with every wrong and every name that stands for nothing.

    Parameters
    ----------
    text : str
        The sheet as TOML.
    name : str
        Its file, for messages.
    fats : mapping
        Fats that are known, by key.
    """
    found = checked_sheet(text, name)
    if found.sheet is not None:
        wrongs = wrong_names(found.sheet, name, fats, written=found.written)
        return replace(found, wrongs=tuple(wrongs))
    part = found.written or found.in_part
    more = wrong_in_part(part, name, fats) if part is not None else []
    return replace(found, wrongs=(*found.wrongs, *more)[:MOST_WRONGS])


def known_slabs(own_text: str | None, name: str = "slabs.toml") -> Slabs:
    """Return the latest slab test of each alginate, by folded name; `InputError` as above."""
    return {} if own_text is None else slabs_from_toml(own_text, name)

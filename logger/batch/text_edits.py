"""Single values of a sheet's text are set or taken out; comments, order and all else stay.

Pure. Used where a person's own text is changed for them, such as for another size.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from logger.model.errors import InputError
from logger.model.files import table_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Edit:
    """One change.

    Attributes
    ----------
    path : tuple of str or int
        Keys, and places in lists counted from zero: ``("ingredient", 2, "amount")``.
    value : str, number, bool, list of str or None
        Its new value; None removes the key.
    """

    path: tuple[str | int, ...]
    value: str | int | float | bool | list[str] | None


def edited(text: str, name: str, edits: Iterable[Edit]) -> str:
    """Return a text with some of its values changed.

    Parameters
    ----------
    text : str
        TOML.
    name : str
        File name for messages.
    edits : iterable of Edit
        Done in their order; a key that is not there yet goes to the end of its table.

    Raises
    ------
    InputError
        If the text is no TOML, or has no table where an edit goes.
    """
    import tomlkit  # at the first edit: most commands make none

    table_of(text, name)
    try:
        document: Any = tomlkit.parse(text)
    except (ValueError, RecursionError) as cause:
        raise InputError(
            name, "this cannot be changed in its text", "write plain tables"
        ) from cause
    for edit in edits:
        *outer, last = edit.path
        here = document
        try:
            for step in outer:
                here = here[step]
            if edit.value is not None:
                here[last] = edit.value
            elif last in here:
                del here[last]
        except (LookupError, TypeError) as cause:
            where = ".".join(str(step) for step in edit.path)
            raise InputError(
                f"{name}: {where}", "no place to write it", "write it by hand"
            ) from cause
    return tomlkit.dumps(document)

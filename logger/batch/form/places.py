"""Tables of a sheet that the form shows, those inside others with them, and where each is.

Pure look-ups. Tables inside others, such as the alternatives of all ingredients, are counted
through the whole text, as they stand in it.
"""

from collections.abc import Mapping
from typing import Any, Literal

Table = Literal[
    "sheet",
    "ingredient",
    "ingredient.alternative",
    "stage",
    "subrecipe",
    "subrecipe.ingredient",
    "vessel",
    "result",
]
Path = tuple[str | int, ...]


def paths_of(data: Mapping[str, Any], table: str) -> list[Path]:
    """Return where the tables of a name are, in the order of the text.

    Parameters
    ----------
    data : mapping
        What the text holds.
    table : str
        Name of the tables; ``"sheet"`` is one alone.
    """
    if table == "sheet":
        return [("sheet",)]
    outer, _, inner = table.partition(".")
    found: list[Path] = [(outer, place) for place in range(len(_listed(data, outer)))]
    if not inner:
        return found
    return [
        (outer, place, inner, n)
        for place, one in enumerate(_listed(data, outer))
        for n in range(len(_listed(one, inner)))
    ]


def at_path(data: Any, path: Path) -> Any:
    """Return what is at a path.

    Parameters
    ----------
    data : Any
        What the text holds.
    path : tuple of str or int
        Keys, and places in lists counted from zero.

    Raises
    ------
    LookupError
        If there is nothing.
    """
    for step in path:
        data = data[step]
    return data


def _listed(data: Any, key: str) -> list[Any]:
    found = data.get(key) if isinstance(data, Mapping) else None
    return found if isinstance(found, list) else []

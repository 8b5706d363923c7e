"""Finds the module in which a room keeps its part of a kind, by its place in the room.

Rooms hold no lists of kinds: each names a place such as
``logger.watch.stages.{kind}.watcher`` and asks here. Imports only modules of the house, by name.
"""

from importlib import import_module
from importlib.util import find_spec
from types import ModuleType

from logger.model.errors import MissingPartError


def part(kind: str, what: str, place: str) -> ModuleType:
    """Return the module that holds a kind's part of a room.

    Parameters
    ----------
    kind : str
        Name of the kind.
    what : str
        What the part is, in words, for the error.
    place : str
        Name of the module with ``{kind}`` in it.

    Raises
    ------
    MissingPartError
        If there is no such module.
    """
    found = optional_part(kind, place)
    if found is None:
        raise MissingPartError(kind, what, file_of(kind, place))
    return found


def optional_part(kind: str, place: str) -> ModuleType | None:
    """Return the module that holds a kind's part of a room, or None where it has none."""
    name = place.format(kind=kind)
    package, _, _ = name.rpartition(".")
    try:
        if find_spec(name) is None:
            return None
    except ModuleNotFoundError as cause:
        if cause.name is None or not f"{package}.".startswith(f"{cause.name}."):
            raise
        return None
    return import_module(name)


def file_of(kind: str, place: str) -> str:
    """Return the file, from the top of the project, of a kind's part at a place."""
    return place.format(kind=kind).replace(".", "/") + ".py"

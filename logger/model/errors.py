"""What can go wrong, sorted by whose fault it is.

One root, so that a caller can catch everything of ours; each child also inherits the nearest
builtin. A message says what was found, what was wanted and what to do. Bad data from an instrument
is not here: it is a value in the stream.
"""

_MOST_SAID = 1_000
"""Longest part of a message [characters]."""


class BainlogError(Exception):
    """Root of all errors that bainlog raises on purpose."""


class OutOfRangeError(BainlogError, ValueError):
    """A number lies outside what an equation or a rule covers.

    Parameters
    ----------
    name : str
        The quantity with its unit, as the caller knows it: ``"water temperature [degC]"``.
    value : float
        What was found.
    wanted : str
        The range that would do, in words.
    """

    def __init__(self, name: str, value: float, wanted: str) -> None:
        super().__init__(f"{name}: found {value:g}, wanted {wanted}")
        self.name = name
        self.value = value
        self.wanted = wanted


class CannotSetError(OutOfRangeError):
    """A calcium bath holds too little calcium to set the coat it is asked to set."""


def _cut(text: str) -> str:
    """Return a part of a message, cut where it repeats a long value of a file."""
    return text if len(text) <= _MOST_SAID else f"{text[:_MOST_SAID]}..."


class InputError(BainlogError, ValueError):
    """Something a person wrote or typed is wrong: exit code 2, one line.

    Parameters
    ----------
    where : str
        File and key, line or port: ``"roll.sheet.toml: stage[2].dwell.low"``.
    found : str
        What stands there.
    wanted : str
        What would do, and what to do about it.
    """

    def __init__(self, where: str, found: str, wanted: str) -> None:
        found, wanted = _cut(found), _cut(wanted)
        super().__init__(f"{where}: {found}; {wanted}")
        self.where = where
        self.found = found
        self.wanted = wanted


class PortError(BainlogError, OSError):
    """A serial port could not be opened or was lost; the message says which kind and what to do."""


class StoreError(BainlogError, OSError):
    """A run file or the catalog could not be read or written."""


class BusyError(BainlogError, RuntimeError):
    """Another recorder holds the data folder or the port; the message names it."""


class MissingPartError(BainlogError, LookupError):
    """A room has no part for a kind of stage.

    Parameters
    ----------
    kind : str
        Name of the kind.
    what : str
        What is missing, in words.
    file : str
        Where it belongs, from the top of the project.
    """

    def __init__(self, kind: str, what: str, file: str) -> None:
        super().__init__(f"kind {kind!r} has no {what}: {file}")
        self.kind = kind
        self.what = what
        self.file = file


class UndeclaredKeyError(BainlogError, LookupError):
    """A check is known by a key that no record of a kind declares.

    Parameters
    ----------
    key : str
        The key.
    wanted : str
        What is wanted in its place, in words.
    """

    def __init__(self, key: str, wanted: str) -> None:
        super().__init__(f"no check {key!r}: wanted {wanted}")
        self.key = key
        self.wanted = wanted

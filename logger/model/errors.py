"""What can go wrong, sorted by whose fault it is.

One root, so that a caller can catch everything of ours; each child also inherits the nearest
builtin. A message says what was found, what was wanted and what to do. Bad data from an instrument
is not here: it is a value in the stream.
"""

MOST_SAID = 600
"""Longest message about a file or a typed value [characters]: a list of all faults fits."""


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
        super().__init__(f"{name}: found {value:g}, expected {wanted}")
        self.name = name
        self.value = value
        self.wanted = wanted


class CannotSetError(OutOfRangeError):
    """A calcium bath holds too little calcium to set the coat it is asked to set."""


def _fitted(where: str, found: str, wanted: str) -> tuple[str, str, str]:
    """Cut the longest parts of a message until it fits; what is short is left as it is."""
    room = MOST_SAID - len(": ; ")
    most = room
    lengths = (len(where), len(found), len(wanted))
    while sum(min(length, most) for length in lengths) > room:
        most -= 1
    return _cut_place(where, most), _cut(found, most), _cut(wanted, most)


def _cut(text: str, most: int) -> str:
    """Return the beginning of a text, up to the end of a word or an entry of a list."""
    if len(text) <= most:
        return text
    kept, gap, _ = text[: most - 3].rpartition(" ")
    return (kept if gap and len(kept) > most // 2 else text[: most - 4]) + " ..."


def _cut_place(where: str, most: int) -> str:
    """Return file and key with less in the middle of each; both stay to be seen."""
    parts = where.split(": ")
    if len(where) <= most:
        return where
    if len(parts) > 4:
        parts = [*parts[:2], *parts[-2:]]
    each = (most - 2 * (len(parts) - 1)) // len(parts)
    short = [part for part in parts if len(part) <= each]
    long = max(1, len(parts) - len(short))
    each = (most - 2 * (len(parts) - 1) - sum(map(len, short))) // long
    return ": ".join(_cut_middle(part, each, ahead=place) for place, part in enumerate(parts))


def _cut_middle(text: str, most: int, *, ahead: int) -> str:
    # A path is known by its end, a key by both.
    begin = (most - 3) // 2 if ahead else 0
    return text if len(text) <= most else f"{text[:begin]}...{text[len(text) - most + 3 + begin :]}"


class InputError(BainlogError, ValueError):
    """Something a person wrote or typed is wrong: exit code 2, one line of `MOST_SAID` at most.

    Parameters
    ----------
    where : str
        File and key, line or port: ``"roll.sheet.toml: stage[2].dwell.low"``.
    found : str
        What was found there.
    wanted : str
        What would do, and what to do about it.
    """

    def __init__(self, where: str, found: str, wanted: str) -> None:
        where, found, wanted = _fitted(where, found, wanted)
        super().__init__(f"{where}: {found}; {wanted}")
        self.where = where
        self.found = found
        self.wanted = wanted


class PortError(BainlogError, OSError):
    """A serial port could not be opened or was lost; the message says which kind and what to do."""


class StoreError(BainlogError, OSError):
    """A run file or the catalog could not be read or written."""


class BadFileError(StoreError, ValueError):
    """A run file is damaged, none of ours, or of a newer edition: exit code 2, one line."""


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

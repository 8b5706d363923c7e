"""The JSON of an export to its parts: readings as columns, events and raw bytes one at a time.

Reads the file in pieces, so that a large run takes the room of its readings and not that of a
Python object for each number, and a file of 50 MB of commas next to none. Used by ``digests``.
"""

import base64
import binascii
import io
import sys
from array import array
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from logger.model.errors import InputError
from logger.model.event import Event
from logger.store.exchange.checked import chunk_from, event_from
from logger.store.exchange.jsonpieces import JsonPieces
from logger.store.folder.given import first_bad_row, opened
from logger.store.run.records import Chunk

MAX_BYTES = 2_000_000_000
"""Largest file of an export that is read."""
MAX_READINGS = 20_000_000
"""Most readings of a channel: a day of a full bench at 10 Hz is 14 million."""
_AGAIN = "export the run again"
_MOST_KEYS = 300
_MOST_ELEMENTS = 20_000_000
_SHORT, _LONG, _RESULTS = 10_000, 2_500_000, 8_000_000
"""Longest values by kind [characters]: a text of a million may have each of them escaped."""
_NUMBER = (int, float, type(None))
_COLUMNS: dict[str, tuple[Any, type[Any], tuple[type, ...]]] = {
    "t_ns": ("q", np.int64, (int,)),
    "value": ("d", np.float64, _NUMBER),
    "flags": ("i", np.int32, (int,)),
    "cold_junction_c": ("d", np.float64, _NUMBER),
}

Columns = dict[str, NDArray[Any] | None]


def json_export(path: Path) -> dict[str, Any]:
    """Return what the JSON file of an export says, or the ``run.json`` of its folder.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    dict
        JSON values by key, but columns by channel in ``readings``, `Event` in ``events`` and
        `Chunk` in ``raw``; a key that is missing there is missing here.

    Raises
    ------
    InputError
        If it is no JSON object, or a part is of another kind or longer than in any export.
    """
    parts = _Parts(path)
    with opened(path, MAX_BYTES) as raw, io.TextIOWrapper(raw, "utf-8-sig", newline="") as file:
        pieces = JsonPieces(file)
        try:
            return parts.read(pieces)
        except InputError:
            raise
        except UnicodeDecodeError as cause:
            where = f"{path.name}: row {first_bad_row(path)}"
            wanted = "save the file as UTF-8"
            raise InputError(where, "text that is not UTF-8", wanted) from cause
        except (ValueError, OverflowError, TypeError) as cause:
            wrong = "a number too large" if isinstance(cause, OverflowError) else str(cause)
            where = f"{path}: {parts.key}" if parts.key else str(path)
            found = f"can't be read at character {pieces.place} ({wrong[:120]})"
            raise InputError(where, found, _AGAIN) from cause


class _Parts:
    """The parts of one file; `key` says which is being read."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.key = ""

    def read(self, pieces: JsonPieces) -> dict[str, Any]:
        if pieces.next() != "{":
            wanted = "give its folder or its JSON file"
            raise InputError(str(self.path), "not an export of a run", wanted)
        found: dict[str, Any] = {}
        for key in pieces.keys(_MOST_KEYS):
            self.key = key[:60]
            found[key] = self._part(key, pieces, known="format" in found)
        self.key = ""
        pieces.end()
        return found

    def _part(self, key: str, pieces: JsonPieces, *, known: bool) -> Any:
        in_pieces: dict[str, Callable[[JsonPieces], Any]] = {
            "readings": self._readings,
            "events": self._events,
            "raw": self._chunks,
        }
        if key in in_pieces:
            return in_pieces[key](pieces)
        if key in _WHOLE and pieces.next() in "[{":
            return _WHOLE[key](pieces)
        try:
            return pieces.value(_LONG)
        except ValueError as cause:
            if known:
                raise
            wanted = "give its folder or its JSON file"
            raise InputError(str(self.path), "not an export of a run", wanted) from cause

    def _readings(self, pieces: JsonPieces) -> dict[str, Columns]:
        found: dict[str, Columns] = {}
        for channel in pieces.keys(_MOST_KEYS):
            columns: Columns = {}
            for name in pieces.keys(_MOST_KEYS):
                self.key = f"readings.{channel[:60]}.{name[:60]}"
                if name in _COLUMNS:
                    columns[name] = _column(pieces, name)
                elif pieces.next() == "[":
                    for piece in pieces.numbers():
                        if not set(map(type, piece)) <= {int, float, type(None)}:
                            raise ValueError("not a list of numbers")
                else:
                    pieces.value(_SHORT)
            found[channel] = columns
        return found

    def _events(self, pieces: JsonPieces) -> list[Event]:
        return [
            event_from(pieces.value(_LONG), f"{self.path}: event {number}")
            for number in pieces.elements(_MOST_ELEMENTS)
        ]

    def _chunks(self, pieces: JsonPieces) -> list[Chunk]:
        found = []
        for number in pieces.elements(_MOST_ELEMENTS):
            self.key = f"raw bytes {number}"
            found.append(_chunk(pieces.value(_LONG)))
        return found


def _table(pieces: JsonPieces) -> dict[str, Any]:
    return {key: pieces.value(_LONG) for key in pieces.keys(_MOST_KEYS)}


_WHOLE: dict[str, Callable[[JsonPieces], Any]] = {
    "run": _table,
    "anchors": lambda p: [p.value(_SHORT) for _ in p.elements(100_000)],
    "channels": lambda p: [p.value(_SHORT) for _ in p.elements(_MOST_KEYS)],
    "results": lambda p: p.value(_RESULTS),
    "photos": _table,
}
"""Parts that may be long, each of short pieces."""


def _column(pieces: JsonPieces, name: str) -> NDArray[Any] | None:
    """Return a list of numbers as an array; nan stands for no value."""
    code, kind, types = _COLUMNS[name]
    if name == "cold_junction_c" and pieces.next() == "n":
        return None if pieces.value(_SHORT) is None else np.empty(0)
    made = array(code)
    for piece in pieces.numbers():
        if not set(map(type, piece)) <= set(types):
            raise ValueError("not a list of numbers")
        made.frombytes(np.array(piece, dtype=kind).tobytes())
        if len(made) > MAX_READINGS:
            raise ValueError(f"more than {MAX_READINGS} readings")
    return np.frombuffer(made, dtype=kind) if made else np.empty(0, kind)


def _chunk(row: Any) -> Chunk:
    if not isinstance(row, list) or len(row) != 4 or not isinstance(row[3], str):
        raise ValueError("expected time, instrument, kind and bytes")
    t_ns, instrument, kind, text = row
    try:
        data = base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError) as cause:
        raise ValueError("bytes that are not in base64") from cause
    names = [sys.intern(name) if isinstance(name, str) else name for name in (instrument, kind)]
    return chunk_from(names[0], t_ns, names[1], data)

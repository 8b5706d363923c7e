"""A JSON text read in pieces: what it takes at a time is bounded, whatever is in it.

Takes an open text file and gives keys, elements, small values and flat lists of numbers in the
order of the file; knows nothing of runs. Used by ``jsonexport``. What does not read is a
`ValueError` in words, without a value of the file.
"""

import json
import re
from collections.abc import Iterator
from typing import Any, TextIO

PIECE = 1 << 18
"""Characters that are read at a time."""
MOST_KEY = 1_000
"""Longest key, in quotes [characters]."""
_LONGEST_NUMBER = 5_000
_AHEAD = 3
"""Characters that must follow a value before it is known to end there: 1, 1., 1e, 1e-."""
_BLANK = re.compile(r"[ \t\r\n]*")


class NoNumberError(ValueError):
    """A word that JSON does not know, such as NaN."""


def no_number(word: str) -> float:
    """Refuse a word that stands where a number belongs.

    Raises
    ------
    NoNumberError
        Always.
    """
    raise NoNumberError(f"{word} is not a number")


_DECODER = json.JSONDecoder(parse_constant=no_number)


class JsonPieces:
    """Where a JSON text is being read."""

    def __init__(self, file: TextIO) -> None:
        self._file = file
        self._text, self._at, self._gone = "", 0, 0
        self._ended = False

    @property
    def place(self) -> int:
        """Number of the character that comes next, from 1."""
        return self._gone + self._at + 1

    def next(self) -> str:
        """Return the next character that is no blank, and leave it; empty at the end."""
        while True:
            blank = _BLANK.match(self._text, self._at)
            self._at = blank.end() if blank is not None else self._at
            if self._at < len(self._text):
                return self._text[self._at]
            if self._ended:
                return ""
            self._more(PIECE)

    def take(self, wanted: str) -> str:
        """Take one of some characters.

        Raises
        ------
        ValueError
            If another comes next.
        """
        found = self.next()
        if not found or found not in wanted:
            raise ValueError(f"expected {' or '.join(wanted)}" if found else "it is cut off")
        self._at += 1
        return found

    def value(self, most: int) -> Any:
        """Return the value that comes next, whole.

        Parameters
        ----------
        most : int
            Its longest text [characters].

        Raises
        ------
        ValueError
            If it does not read, or is longer.
        """
        self.next()
        while True:
            found, end, wrong = self._decoded()
            if end is not None and (self._ended or end + _AHEAD <= len(self._text)):
                break
            if self._ended and wrong is not None:
                raise wrong
            if len(self._text) - self._at > most:
                raise ValueError(f"more than {most} characters where a short value belongs")
            self._more(max(PIECE, len(self._text) - self._at))
        self._at = end
        return found

    def _decoded(self) -> tuple[Any, int | None, ValueError | None]:
        """Return the value and its end, or what is wrong: perhaps only that it goes on."""
        try:
            return *_DECODER.raw_decode(self._text, self._at), None
        except json.JSONDecodeError:
            return None, None, ValueError("not JSON, or cut off")
        except RecursionError as cause:
            raise ValueError("nested too deeply") from cause
        except NoNumberError:
            raise
        except ValueError as cause:
            raise ValueError("a number of too many digits") from cause

    def keys(self, most: int) -> Iterator[str]:
        """Yield each key of a table; the caller takes its value before the next.

        Parameters
        ----------
        most : int
            Number of keys at most.

        Raises
        ------
        ValueError
            If it is no table, has more keys, or a key twice.
        """
        self.take("{")
        seen = set[str]()
        if self.next() == "}":
            self.take("}")
            return
        while True:
            if self.next() != '"':
                raise ValueError("expected a key in quotes")
            key = self.value(MOST_KEY)
            if key in seen or len(seen) >= most:
                raise ValueError("a key twice" if key in seen else f"more than {most} keys")
            seen.add(key)
            self.take(":")
            yield key
            if self.take(",}") == "}":
                return

    def elements(self, most: int) -> Iterator[int]:
        """Yield the number of each element of a list, from 1; the caller takes it.

        Parameters
        ----------
        most : int
            Number of elements at most.

        Raises
        ------
        ValueError
            If it is no list, or has more.
        """
        self.take("[")
        if self.next() == "]":
            self.take("]")
            return
        for number in range(1, most + 1):
            yield number
            if self.take(",]") == "]":
                return
        raise ValueError(f"more than {most} elements")

    def numbers(self) -> Iterator[list[Any]]:
        """Yield a flat list in pieces of some ten thousand; what is in them is for the caller.

        Raises
        ------
        ValueError
            If it is no list, or has texts, lists or tables in it that do not read as such pieces.
        """
        self.take("[")
        if self.next() == "]":
            self.take("]")
            return
        while True:
            end = self._text.find("]", self._at)
            cut = end if end >= 0 else self._text.rfind(",", self._at)
            if cut < 0:
                if self._ended or len(self._text) - self._at > PIECE + _LONGEST_NUMBER:
                    raise ValueError("it is cut off" if self._ended else "not a list of numbers")
                self._more(PIECE)
                continue
            piece, self._at = self._text[self._at : cut], cut + 1
            if not piece.strip():
                raise ValueError("not a list of numbers")
            yield _flat(piece)
            if end >= 0:
                return

    def end(self) -> None:
        """Require that nothing follows.

        Raises
        ------
        ValueError
            If anything does.
        """
        if self.next():
            raise ValueError("something follows after the end")

    def _more(self, count: int) -> None:
        piece = self._file.read(count)
        self._gone += self._at
        self._text, self._at = self._text[self._at :] + piece, 0
        self._ended = not piece


def _flat(piece: str) -> list[Any]:
    try:
        found: list[Any] = _DECODER.decode(f"[{piece}]")
    except NoNumberError:
        raise
    except (ValueError, RecursionError) as cause:  # no JSON, or an integer of thousands of digits
        raise ValueError("not a list of numbers") from cause
    return found

"""A line as numbers, units, words and marks.

Pure. A number holds the spaces and the sign in front of it, so that a column set right in a fixed
width is one token; what instruments print in place of a number is one too. Where a comma may be a
decimal comma or part a list, and where a dash may be a sign or a hyphen, the line has more than one
reading: `Writing` says which is meant.
"""

import re
from collections.abc import Sequence
from typing import Literal, NamedTuple

from logger.wire.units import quantity_of

Kind = Literal["number", "clock", "unit", "word", "space", "mark"]
BLANKS = (
    "OPEN", "Open", "open", "nan", "NaN", "NAN", "null", "ERR", "Err", "err", "n/a", "--.-",
    "---.-", "---", "----", "-----", "------",
)  # fmt: skip
"""What instruments print in place of a number; common practice, no source."""

PARTING = (",", ";", ":")
"""What may part a number from its unit."""


class Writing(NamedTuple):
    """How numbers are written."""

    comma: bool = False
    """With a decimal comma."""
    glued: bool = False
    """A dash right behind a letter is the sign of the number."""


WRITINGS = (Writing(), Writing(comma=True), Writing(glued=True), Writing(comma=True, glued=True))


class Token(NamedTuple):
    """A piece of a line."""

    kind: Kind
    text: str

    @property
    def number(self) -> float | None:
        """What a number is, as printed; None for what stands in its place."""
        try:
            return float(self.text.replace(" ", "").replace(",", "."))
        except ValueError:
            return None

    @property
    def places(self) -> int:
        """How many decimals a number has."""
        digits = re.split("[eE]", self.text)[0]
        at = max(digits.find("."), digits.find(","))
        return len(digits) - 1 - at if at >= 0 else 0


_CLOCK = (
    r"(?P<clock>\d{4}-\d\d-\d\d|\d\d?:\d\d(?::\d\d(?:\.\d+)?)?(?![\d:])|\d\d?[/.]\d\d?[/.]\d{2,4})"
)
_REST = (
    r"(?P<unit>°[CF]|\*[CF])|(?P<word>[^\W\d_]+)|(?P<space>[ \t]+)|"
    r"(?P<mark>-+(?=[+-] *\d)|(?P<same>[^\w\s]|_)(?P=same)*|\s)"
)
_BLANK = "|".join(re.escape(word) for word in sorted(BLANKS, key=len, reverse=True))


def _pattern(writing: Writing) -> "re.Pattern[str]":
    point = "," if writing.comma else r"\."
    sign = "[+-] *" if writing.glued else r"(?<![^\W_])[+-] *"
    blank = rf"(?<![\w.+-])(?:{_BLANK})(?=(?:[CFK]|[°*][CF]|kg|g|lb|oz)(?![\w.+-])|(?![\w.+-]))"
    digits = rf"(?:{sign})?\d+(?:{point}\d+)?(?:[eE][+-]?\d{{1,3}}(?![^\W_]))?(?!\d)"
    return re.compile(rf"{_CLOCK}|(?P<number> *(?:{blank}|{digits}))|{_REST}")


_PATTERNS = {writing: _pattern(writing) for writing in WRITINGS}


def tokens_of(line: str, writing: Writing) -> tuple[Token, ...]:
    """Return the pieces of a line in their order; a unit is one behind a number only.

    Parameters
    ----------
    line : str
        Without its end.
    writing : Writing
        How numbers are written.
    """
    found: list[Token] = []
    for match in _PATTERNS[writing].finditer(line):
        kind = "mark" if match["mark"] else str(match.lastgroup)
        if kind == "word" and quantity_of(match[0]) is not None and _behind_number(found):
            kind = "unit"
        found.append(Token(kind, match[0]))  # type: ignore[arg-type]  # a Kind by the pattern
    return tuple(found)


def _behind_number(before: list[Token]) -> bool:
    last = before[-1:] if before[-1:] and before[-1].kind == "number" else before[-2:-1]
    between = before[-1] if before and before[-1].kind != "number" else None
    parts = between is None or between.kind == "space" or between.text in PARTING
    return bool(last) and last[0].kind == "number" and parts


def writing_of(lines: Sequence[str]) -> Writing:
    """Return how numbers are most likely written, for showing them to a person.

    Parameters
    ----------
    lines : sequence of str
        Without their ends.
    """
    text = "\n".join(lines)
    points = re.search(r"\d\.\d", text) is not None
    return Writing(comma=not points and re.search(r"\d,\d", text) is not None)


def pieces_of(lines: Sequence[str]) -> list[list[tuple[str, int]]]:
    """Return the pieces of each line, with which of its numbers each is, from 1; 0 is no number.

    Parameters
    ----------
    lines : sequence of str
        Without their ends.
    """
    writing = writing_of(lines)
    found = []
    for line in lines:
        parts, number = [], 0
        for token in tokens_of(line, writing):
            is_number = token.kind == "number"
            number += is_number
            parts.append((token.text, number if is_number and token.number is not None else 0))
        found.append(parts)
    return found


def key_of(tokens: Sequence[Token]) -> tuple[str, ...]:
    """Return what lines of one make have in common: their words and marks, not their numbers."""
    plain = {"space": " ", "number": "number", "clock": "clock", "unit": "unit"}
    return tuple(plain.get(token.kind, token.text) for token in tokens)


def numbers_at(tokens: Sequence[Token]) -> list[int]:
    """Return where the numbers of a line stand."""
    return [at for at, token in enumerate(tokens) if token.kind == "number"]

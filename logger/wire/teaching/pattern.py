"""The pattern that lines of one make fit: made from what they have in common.

Pure. What never changed stays as it is, so that a line with a state that nobody has seen yet is an
unread line and no value; numbers and clocks may change.
"""

import re
from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

from logger.wire.teaching.tokens import BLANKS, PARTING, Token, Writing
from logger.wire.units import quantity_of

UNITS = {"mass": ("g", "kg", "oz", "lb"), "temperature": ("C", "F", "°C", "°F")}
"""Units that an instrument may be switched to."""
FEW = 2
"""A whole number of so few digits that never changed is an address or a state, and stays."""


class Column(NamedTuple):
    """A number of the lines that is a value."""

    group: str
    unit_group: str
    unit_at: int
    """Token of the unit behind it; -1 where the lines print none."""
    backwards: bool
    apart: bool
    """Its sign stands elsewhere."""


class Made(NamedTuple):
    """A pattern, and the widths that its values have, where they are set right in columns."""

    pattern: str
    widths: dict[str, int]


def pattern_of(
    lines: Sequence[tuple[Token, ...]],
    columns: Mapping[int, Column],
    named: Mapping[int, str],
    writing: Writing,
    blanks: Sequence[str] = (),
    codes: Collection[str] = (),
) -> Made:
    """Return the pattern that all of some lines fit.

    Parameters
    ----------
    lines : sequence of tuple of Token
        At least one, all with as many tokens of the same kinds.
    columns : mapping of int to Column
        Values by the place of their token.
    named : mapping of int to str
        Group of a sign or of a state, by the place of its token.
    writing : Writing
        How numbers are written.
    blanks : sequence of str
        What may stand in place of a value, though it did not so far.
    codes : collection of str
        Numbers that stay as they are.
    """
    parts: list[str] = []
    widths: dict[str, int] = {}
    units = {column.unit_at: column for column in columns.values()}
    last = len(lines[0]) - 1
    for at, alike in enumerate(zip(*lines, strict=True)):
        texts = [token.text for token in alike]
        column = columns.get(at)
        if column is not None:
            part, width = _value(texts, writing, column, blanks, _before(texts, lines[0], at))
            if width is not None:
                widths[column.group] = width
            parts.append(f"(?P<{column.group}>{part})")
        elif at in named:
            signs = set(texts) <= {"+", "-"}
            parts.append(f"(?P<{named[at]}>{'[+-]' if signs else literal(texts[0])})")
        elif at in units:
            parts.append(f"(?P<{units[at].unit_group}>{_units(texts)})")
        elif texts[0].strip() in codes or (alike[0].kind == "unit" and columns):
            parts.append("|".join(map(literal, dict.fromkeys(texts))))  # of a reading it is one
        else:
            before = _before(texts, lines[0], at)
            parts.append(_other(alike[0].kind, texts, writing, before, last=at == last))
    return Made("".join(parts), widths)


def literal(text: str) -> str:
    """Return the pattern of a text and nothing else."""
    return "".join(c if c.isalnum() else "\\" + c for c in text)


def unit_place(tokens: Sequence[Token], number: int) -> int:
    """Return where the unit behind a number stands; -1 where there is none.

    Parameters
    ----------
    tokens : sequence of Token
        A line.
    number : int
        Place of the number's token.
    """
    for at in (number + 1, number + 2):
        if at >= len(tokens):
            break
        if tokens[at].kind == "unit":
            return at
        if tokens[at].kind != "space" and tokens[at].text not in PARTING:
            break
    return -1


def _units(texts: Sequence[str]) -> str:
    found = dict.fromkeys([*texts, *UNITS.get(quantity_of(texts[0]) or "", ())])
    return "|".join(literal(unit) for unit in sorted(found, key=lambda u: (-len(u), u)))


def _before(texts: Sequence[str], line: Sequence[Token], at: int) -> str:
    """Return the pattern of the blanks in front of a number.

    Behind another number one of them must be there: of a line that lost its beginning, no part of
    the first number is taken for the second.
    """
    parts = at > 0 and line[at - 1].kind in ("number", "clock")
    if parts and all(text.startswith(" ") for text in texts):
        return " +"
    return " *"


def _value(
    texts: Sequence[str], writing: Writing, column: Column, blanks: Sequence[str], padding: str
) -> tuple[str, int | None]:
    numbers = [text for text in texts if text.strip() not in BLANKS]
    padded = any(text.startswith(" ") for text in texts)
    lengths = {len(text) for text in texts}
    if column.backwards:
        return r"\d+\.\d+", None
    signed = any("+" in text or "-" in text for text in numbers)
    before = padding if padded else ""
    sign = "" if column.apart else "[+-]? *" if signed else "-?"
    part = before + sign + _digits(numbers, writing)
    part = "|".join([part, *(before + literal(blank) for blank in blanks)])
    blanks_before = {len(text) - len(text.lstrip(" ")) for text in texts}
    right = len(blanks_before) > 1 or min(blanks_before) > 1  # one space may just part two cells
    fixed = len(lengths) == 1 and (right or _zeros(numbers)) and not column.apart
    return part, lengths.pop() if fixed else None


def _zeros(texts: Sequence[str]) -> bool:
    """Whether numbers are filled with zeros in front."""
    return any(re.match(r"[ +-]*0\d", text) for text in texts)


def _digits(texts: Sequence[str], writing: Writing) -> str:
    places = {Token("number", text).places for text in texts}
    point = "," if writing.comma else r"\."
    if any("e" in text.lower() for text in texts):
        return rf"\d+(?:{point}\d+)?[eE][+-]?\d+"
    if places == {0}:
        return r"\d+"
    if len(places) == 1:
        return rf"\d+{point}\d{{{places.pop()}}}"
    return rf"\d+(?:{point}\d+)?"


def _other(kind: str, texts: Sequence[str], writing: Writing, before: str, *, last: bool) -> str:
    if kind == "space":
        return " *" if last else _spaces(texts)
    if kind == "clock":
        longest = max(texts, key=len)
        return "".join(r"\d+" if c == "0" else literal(c) for c in re.sub(r"\d+", "0", longest))
    if kind == "number":
        return _number(texts, writing, before)
    return f"(?:{_units(texts)})" if kind == "unit" else literal(texts[0])


def _number(texts: Sequence[str], writing: Writing, before: str) -> str:
    blanks = sorted({text.strip() for text in texts} & set(BLANKS))
    stays = set(texts) == {texts[0]} and len(texts[0].strip(" +-")) <= FEW
    if stays and not blanks:
        return literal(texts[0])
    point = "," if writing.comma else r"\."
    options = [rf"{before}[+-]? *\d+(?:{point}\d+)?(?:[eE][+-]?\d+)?"]
    return f"(?:{'|'.join([*options, *(f'{before}{literal(blank)}' for blank in blanks)])})"


def _spaces(texts: Sequence[str]) -> str:
    return literal(texts[0]) if len(set(texts)) == 1 else r"[ \t]+"

"""Where the tables of a sheet begin and end in its text; moving, adding and removing them.

Pure work on lines. A table's comment is what stands right above it, without a blank line between;
it moves with the table. Blank lines and comments between tables stay where they are. The caller
compares what comes out with what it should hold: lines can be taken for tables that are none.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass

_HEAD = re.compile(
    r"\s*\[{1,2}\s*(?P<name>[A-Za-z0-9_-]+(?:\s*\.\s*[A-Za-z0-9_-]+)*)\s*\]{1,2}\s*(?:#.*)?"
)

_ENDS = {
    '"""': re.compile(r'(?:\\.|[^\\])*?"""'),
    "'''": re.compile(r".*?'''"),
}
"""How a text of several lines goes on to its end, by the quotes that begin it."""
_STRING = re.compile(r'"""|\'\'\'|"(?:\\.|[^"\\])*"|\'[^\']*\'|#.*')
"""A text within one line, the quotes of a longer one, or a comment."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Lines of a table with those below it, counted from zero; `end` is behind its last.

    Attributes
    ----------
    start, head, own_end, end : int
        First line of its comment; its head; behind its last own line; behind that of its inner
        tables.
    """

    start: int
    head: int
    own_end: int
    end: int


def spans_of(lines: Sequence[str], table: str) -> list[Span]:
    """Return where the tables of a name are, in their order.

    Parameters
    ----------
    lines : sequence of str
        Of the text.
    table : str
        Name of the table, such as ``"ingredient"``.
    """
    heads = _heads(lines)
    found = []
    for at, (line, name) in enumerate(heads):
        if name != table:
            continue
        inner = at + 1
        while inner < len(heads) and heads[inner][1].startswith(f"{table}."):
            inner += 1
        own_end = _content_end(lines, line, _next(heads, at + 1, lines))
        end = _content_end(lines, line, _next(heads, inner, lines))
        found.append(Span(start=_comment(lines, line), head=line, own_end=own_end, end=end))
    return found


def _heads(lines: Sequence[str]) -> list[tuple[int, str]]:
    """Return the lines of heads with their names; a text of several lines has none inside."""
    found, quote = list[tuple[int, str]](), ""
    for place, line in enumerate(lines):
        if not quote and (head := _HEAD.fullmatch(line)):
            found.append((place, re.sub(r"\s", "", head["name"])))
        quote = _left_open(line, quote)
    return found


def _left_open(line: str, quote: str) -> str:
    """Return the quotes of the text that a line leaves open, as the line before left `quote`."""
    at = 0
    while True:
        if quote:
            end = _ENDS[quote].match(line, at)
            if end is None:
                return quote
            at, quote = end.end(), ""
        string = _STRING.search(line, at)
        if string is None:
            return ""
        at, quote = string.end(), string[0] if string[0] in _ENDS else ""


def _next(heads: Sequence[tuple[int, str]], at: int, lines: Sequence[str]) -> int:
    return heads[at][0] if at < len(heads) else len(lines)


def _content_end(lines: Sequence[str], head: int, limit: int) -> int:
    """Return the line behind the last one, below a head and above a limit, that says something."""
    for place in range(limit - 1, head, -1):
        line = lines[place].strip()
        if line and not line.startswith("#"):
            return place + 1
    return head + 1


def _comment(lines: Sequence[str], head: int) -> int:
    start = head
    while start > 0 and lines[start - 1].lstrip().startswith("#"):
        start -= 1
    return start


def moved(lines: Sequence[str], table: str, place: int, to: int) -> list[str]:
    """Return lines with one table of a name moved to another's place; the others close up.

    Parameters
    ----------
    lines : sequence of str
        Of the text.
    table : str
        Name of the tables.
    place, to : int
        Counted from zero among those of the name.

    Raises
    ------
    IndexError
        If there is no table at one of the places.
    """
    spans = spans_of(lines, table)
    if not (0 <= place < len(spans) and 0 <= to < len(spans)):
        raise IndexError(place)
    order = list(range(len(spans)))
    order.insert(to, order.pop(place))
    found, at = list[str](), 0
    for span, source in zip(spans, order, strict=True):
        found += lines[at : span.start]
        found += lines[spans[source].start : spans[source].end]
        at = span.end
    return [*found, *lines[at:]]


def without(lines: Sequence[str], table: str, place: int) -> list[str]:
    """Return lines without one table; lines that are comments alone stay.

    Parameters
    ----------
    lines : sequence of str
        Of the text.
    table : str
        Name of the tables.
    place : int
        Counted from zero among those of the name.

    Raises
    ------
    IndexError
        If there is no table at the place.
    """
    span = _span(lines, table, place)
    kept = [line for line in lines[span.start : span.end] if line.lstrip().startswith("#")]
    after = list(lines[span.end :])
    if not kept and after and not after[0].strip():
        after = after[1:]
    return [*lines[: span.start], *kept, *after]


def with_table(lines: Sequence[str], table: str, place: int, new: Sequence[str]) -> list[str]:
    """Return lines with another table behind the one at a place; at the end where there is none.

    Parameters
    ----------
    lines : sequence of str
        Of the text.
    table : str
        Name of the tables.
    place : int
        Counted from zero; what is beyond the last is the last.
    new : sequence of str
        Lines of the table, its head first.
    """
    spans = spans_of(lines, table)
    at = spans[min(place, len(spans) - 1)].end if spans else len(lines)
    blank = [""] if at and lines[at - 1].strip() else []
    return [*lines[:at], *blank, *new, *lines[at:]]


def with_line(lines: Sequence[str], table: str, place: int, line: str) -> list[str]:
    """Return lines with one more behind the last own line of a table.

    Parameters
    ----------
    lines : sequence of str
        Of the text.
    table : str
        Name of the tables.
    place : int
        Counted from zero among those of the name.
    line : str
        What is added.

    Raises
    ------
    IndexError
        If there is no table at the place.
    """
    at = _span(lines, table, place).own_end
    return [*lines[:at], line, *lines[at:]]


def _span(lines: Sequence[str], table: str, place: int) -> Span:
    spans = spans_of(lines, table)
    if not 0 <= place < len(spans):
        raise IndexError(place)
    return spans[place]

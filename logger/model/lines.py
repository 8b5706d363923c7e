"""On which line of a TOML text a key is, and what a line or a time was meant to be.

For messages beside the text. Pure; the paths are those of the errors of ``files``:
``stage[2].dwell.low``, counted from one.
"""

import re
import tomllib

_STEP = re.compile(r"(?P<key>[^.\[\]]+)(?:\[(?P<number>\d+)\])?")
_HEAD = re.compile(r"^\s*\[")
_AT_LINE = re.compile(r"\bat line (\d+)")
_SET = re.compile(r"\s*([^=:\s]+)\s*(?:[=:]\s*|\s)(.*?)\s*(#.*)?")
_PAIR = re.compile(r"""(\w+)\s*[=:]\s*("[^"]*"|[^,{}"]+[^,{}"\s]"?)""")
_CLOCK = re.compile(r"\s*(?:([0-9]{1,2}):)?([0-9]{1,3}):([0-5][0-9])\s*")
_TEXT = re.compile(r"'[^']*'|\"[^\"]*\"|#.*")
_CURLY = str.maketrans("“”„«»", '"' * 5)
_MOST_LINE = 200
"""Longest line for which a right form is looked for [characters]."""


def line_of(text: str, path: str) -> int | None:
    """Return the line, counted from one, on which a key stands, or the one nearest above it.

    Parameters
    ----------
    text : str
        The TOML text; it need not read.
    path : str
        Key path of an error, or its words where they name a line themselves (``at line 3``).

    Returns
    -------
    int or None
        None where not even the table is found.
    """
    said = _AT_LINE.search(path)
    if said is not None:
        return int(said[1])
    steps = [(m["key"], int(m["number"] or 1)) for m in _STEP.finditer(path)]
    lines = text.splitlines()
    if not steps:
        return None
    place = _head(lines, *steps[0])
    if place is None:
        return _key(lines, 0, steps[0][0])
    table = steps[0][0]
    for key, number in steps[1:]:
        found = _key(lines, place, key)
        if found is not None:
            return found
        table = f"{table}.{key}"
        place = _inner_head(lines, place, table, number) or place
    return place


def _head(lines: list[str], table: str, number: int) -> int | None:
    head = _head_of(table)
    there = [place for place, line in enumerate(lines, start=1) if head.match(line)]
    return there[number - 1] if len(there) >= number else None


def _head_of(table: str) -> re.Pattern[str]:
    return re.compile(rf"^\s*\[\[?\s*{re.escape(table)}\s*\]")


def _inner_head(lines: list[str], outer: int, table: str, number: int) -> int | None:
    """Return the line of the numbered head of a table below an outer one, ahead of its next."""
    inner, parent = _head_of(table), _head_of(table.rpartition(".")[0])
    for place, line in enumerate(lines[outer:], start=outer + 1):
        if parent.match(line):
            return None
        number -= bool(inner.match(line))
        if number == 0:
            return place
    return None


def _key(lines: list[str], head: int, key: str) -> int | None:
    """Return the line of a key below a head and above the next one."""
    wanted = re.compile(rf"""^\s*["']?{re.escape(key)}["']?\s*=""")
    for place, line in enumerate(lines[head:], start=head + 1):
        if wanted.match(line):
            return place
        if _HEAD.match(line) and "=" not in line and not line.rstrip().endswith(","):
            return None
    return None


def meant_line(text: str, number: int) -> tuple[int, str]:
    """Return the line that keeps a text from being TOML, and the form that it was meant to have.

    Parameters
    ----------
    text : str
        The text.
    number : int
        Line at which the parser gave up, counted from one.

    Returns
    -------
    tuple
        Line, counted from one, and its right form; empty where nobody can tell. Where a list of
        several lines has no end, its first line and its last, ``]``.
    """
    lines = text.splitlines()
    line = lines[number - 1] if 0 < number <= len(lines) else ""
    if len(line) > _MOST_LINE:
        return number, ""
    if not _reads(line):
        found = next((form for form in _forms(line, text) if _reads(form)), "")
        if found:
            return number, found
    for place in range(min(number, len(lines)) - 1, 0, -1):
        bare = _TEXT.sub("", lines[place - 1][:_MOST_LINE])
        if "]" in bare:
            break
        if "=" in bare and "[" in bare.partition("=")[2]:
            return place, "]"
    return number, ""


def first_of(text: str, number: int) -> int | None:
    """Return the line that says the same as a later one: the same key of a table, the same head.

    Parameters
    ----------
    text : str
        The text.
    number : int
        Line that a parser took for a second one, counted from one.

    Returns
    -------
    int or None
        Line, counted from one; None where there is none.
    """
    lines = [_TEXT.sub("", line[:_MOST_LINE]) for line in text.splitlines()]
    said = _said(lines[number - 1]) if 0 < number <= len(lines) else ""
    for place in range(number - 1, 0, -1):
        if said and _said(lines[place - 1]) == said:
            return place
        if _HEAD.match(lines[place - 1]) and not said.startswith("["):
            return None
    return None


def _said(line: str) -> str:
    """Return the key of a line, or its head, in single brackets."""
    if _HEAD.match(line):
        return f"[{line.strip().strip('[] ')}]"
    return line.partition("=")[0].strip() if "=" in line else ""


def _reads(line: str) -> bool:
    """Return whether a line alone is TOML."""
    try:
        tomllib.loads(line)
    except ValueError:
        return False
    return True


def _forms(line: str, text: str) -> list[str]:
    """Return what a line may have been meant to be, the likeliest form first."""
    line = line.translate(_CURLY).strip()
    if line.startswith("["):
        name = line.partition("#")[0].strip("[] \t")
        double = "[[" in line or "]]" in line or f"[[{name}]]" in text
        return [f"[[{name}]]" if double else f"[{name}]"]
    parts = _SET.fullmatch(line)
    if parts is None:
        return []
    key, value = parts[1], parts[2]
    if len(pairs := _PAIR.findall(value)) > 1 or value[:1] == "{" or value[-1:] == "}":
        return ["{} = {{ {} }}".format(key, ", ".join(f"{k} = {_quoted(v)}" for k, v in pairs))]
    if value[:1] == "[" or value[-1:] == "]":
        words = re.findall(r'"([^"]*)"', value) or value.strip("[] ").split(",")
        return ["{} = [{}]".format(key, ", ".join(_quoted(word) for word in words))]
    return [f"{key} = {value}", f"{key} = {_quoted(value)}"]


def _quoted(value: str) -> str:
    """Return a value in quotes, its decimal comma a point, a time on a clock with its unit."""
    bare = value.strip().strip("\"'").strip()
    bare = clock_form(bare) or bare
    return '"' + re.sub(r"^([-+]?[0-9]+),([0-9]+)(?![0-9])", r"\1.\2", bare) + '"'


def clock_form(text: str) -> str | None:
    """Return a time on a clock as it is read: ``"6 min"`` for ``"6:00"``; None for none."""
    clock = _CLOCK.fullmatch(text)
    if clock is None:
        return None
    hours, minutes, seconds = (int(part or 0) for part in clock.groups())
    whole_min = 60 * hours + minutes
    return f"{60 * whole_min + seconds} s" if seconds else f"{whole_min} min"

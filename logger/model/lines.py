"""On which line of a TOML text a key stands, for messages beside the text.

Pure; the paths are those of the errors of ``files``: ``stage[2].dwell.low``, counted from one.
"""

import re

_STEP = re.compile(r"(?P<key>[^.\[\]]+)(?:\[(?P<number>\d+)\])?")
_HEAD = re.compile(r"^\s*\[")
_AT_LINE = re.compile(r"\bat line (\d+)")


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
    for key, _ in steps[1:]:
        found = _key(lines, place, key)
        if found is not None:
            return found
    return place


def _head(lines: list[str], table: str, number: int) -> int | None:
    head = re.compile(rf"^\s*\[\[?\s*{re.escape(table)}\s*\]")
    there = [place for place, line in enumerate(lines, start=1) if head.match(line)]
    return there[number - 1] if len(there) >= number else None


def _key(lines: list[str], head: int, key: str) -> int | None:
    """Return the line of a key below a head and above the next one."""
    wanted = re.compile(rf"""^\s*["']?{re.escape(key)}["']?\s*=""")
    for place, line in enumerate(lines[head:], start=head + 1):
        if wanted.match(line):
            return place
        if _HEAD.match(line) and "=" not in line and not line.rstrip().endswith(","):
            return None
    return None

"""A list of n like cells, spelled out as channels and a pattern.

``columns = { count = 8 }`` in a line format saves writing eight channels and a long pattern. Pure;
works on the table as read from TOML, before it is validated.
"""

from typing import Any

KEYS = {
    "count",
    "prefix",
    "separator",
    "cell",
    "blank",
    "sentinel",
    "power_on",
    "quantity",
    "unit",
    "write",
    "decimal",
}
CELL = r"[-+]?\d+(?:\.\d+)?"
MAX_COUNT = 64


def spelled_out(table: dict[str, Any]) -> dict[str, Any]:
    r"""Return the table with ``columns`` replaced by the channels and the line it stands for.

    Parameters
    ----------
    table : dict
        One shape's table. ``columns`` holds ``count`` and, where they differ from the usual,
        ``prefix`` (``"t"``), ``separator`` (``","``), ``cell`` (pattern of a number,
        ``[-+]?\d+(\.\d+)?``), ``blank``, ``sentinel``, ``power_on``, ``quantity``, ``unit``,
        ``decimal`` and ``write`` (format of a number).

    Raises
    ------
    ValueError
        If ``columns`` holds something else.
    """
    columns = table.get("columns")
    if columns is None:
        return table
    if not isinstance(columns, dict) or not set(columns) <= KEYS:
        raise ValueError(f"columns is a table of {', '.join(sorted(KEYS))}")
    count = columns.get("count")
    if not isinstance(count, int) or not 1 <= count <= MAX_COUNT:
        raise ValueError(f"columns.count is {count!r}, wanted a number from 1 to {MAX_COUNT}")
    prefix, separator = columns.get("prefix", "t"), columns.get("separator", ",")
    names = [f"{prefix}{n}" for n in range(1, count + 1)]
    if not all(name.isidentifier() for name in names):
        raise ValueError(f"columns.prefix {prefix!r} makes no names; use letters")
    blank = [str(text) for text in columns.get("blank", [])]
    options = [columns.get("cell", CELL), *(_literal(text) for text in blank)]
    cells = [f"(?P<{name}>{'|'.join(options)})" for name in names]
    shared = {
        key: columns[key] for key in ("quantity", "unit", "write", "decimal") if key in columns
    }
    rest = {key: value for key, value in table.items() if key != "columns"}
    rest["channel"] = {name: {"group": name, **shared} for name in names} | table.get("channel", {})
    rest["line"] = [
        *table.get("line", []),
        {
            "means": "reading",
            "pattern": _literal(separator).join(cells),
            "blank": blank,
            "sentinel": columns.get("sentinel", []),
            "power_on": columns.get("power_on", []),
            "write": separator.join(f"{{{name}}}" for name in names),
        },
    ]
    return rest


def _literal(text: str) -> str:
    return "".join(c if c.isalnum() else "\\" + c for c in text)

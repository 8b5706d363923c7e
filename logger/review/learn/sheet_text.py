"""A batch sheet as text that ``model.files.sheet_from_text`` reads back to the same sheet.

Pure. Numbers get the unit that the name of their field says; what is as by default is left out.
"""

import json
from typing import Any

from logger.model.recipe.entry import Price
from logger.model.sheet import Sheet
from logger.model.written import Band, Written, field_unit

_MINUTE_S = 60.0
_WIDE = 92
"""Longest line of a list before it is broken up."""


def sheet_as_toml(sheet: Sheet, *, head: str = "") -> str:
    """Write a sheet as TOML.

    Parameters
    ----------
    sheet : Sheet
        The sheet.
    head : str
        Comment above it, without the number signs.
    """
    lines = [f"# {line}".rstrip() for line in head.splitlines()]
    lines += [*([""] if lines else []), "[sheet]", *_lines(sheet.sheet)]
    for name, tables in (
        ("ingredient", [*sheet.ingredient, *sheet.to_taste]),
        ("subrecipe", sheet.subrecipe),
        ("vessel", sheet.vessel),
        ("stage", sheet.stage),
        ("result", sheet.result),
    ):
        for table in tables:
            lines += ["", f"[[{name}]]", *_lines(table)]
    return "\n".join(lines) + "\n"


def quantity_text(value: float, unit: str) -> str:
    """Write a number with its unit so that reading it gives the number back."""
    if unit == "s" and abs(value) >= 2 * _MINUTE_S:
        minutes = value / _MINUTE_S
        if float(f"{minutes:.6g}") * _MINUTE_S == value:
            return f"{minutes:.6g} min"
    short = f"{value:.6g}"
    return f"{short if float(short) == value else repr(value)} {unit}".rstrip()


def _lines(table: Written) -> list[str]:
    lines = []
    for name, info in type(table).model_fields.items():
        value = getattr(table, name)
        if value is None or value == info.get_default(call_default_factory=True):
            continue
        lines.append(f"{info.alias or name} = {_value(value, field_unit(name))}")
    return lines


def _value(value: Any, unit: str | None) -> str:
    if isinstance(value, Band):
        return _band(value)
    if isinstance(value, Price):
        return _text(f"{value.per_kg:.10g} {value.currency}/kg")
    if isinstance(value, Written):
        return "{ " + ", ".join(_lines(value)) + " }"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float) and unit is not None:
        return _text(quantity_text(value, unit))
    if isinstance(value, (int, float)):
        return repr(value)
    if isinstance(value, list):
        parts = [_value(v, unit) for v in value]
        flat = ", ".join(parts)
        if len(flat) <= _WIDE:
            return f"[{flat}]"
        return "[\n" + "".join(f"  {part},\n" for part in parts) + "]"
    return _text(str(value))


def _band(band: Band) -> str:
    ends = [
        f"{key} = {_text(quantity_text(end, band.unit))}"
        for key, end in (("low", band.low), ("high", band.high))
        if end is not None
    ]
    source = [f"source = {_text(band.source)}"] if band.source != "sheet" else []
    return "{ " + ", ".join(ends + source) + " }"


def _text(value: str) -> str:
    # A JSON string is a TOML basic string but for the delete character.
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")

"""Which columns of numbers without a unit are probes? Nothing in the lines says it: somebody does.

Pure. A set value, an output or a mean beside a probe may look like another probe.
"""

import re
from collections.abc import Mapping
from dataclasses import replace

from logger.model.errors import InputError
from logger.ports.finding.heard import Heard
from logger.wire.shapes.shape import Shape
from logger.words.digits import exact

ALL = "all"
PLACES = 2


def said_of(heard: Heard, unit: str, columns: str, shapes: Mapping[str, Shape]) -> Heard:
    """Return what was heard, with what somebody said of numbers without a unit.

    Parameters
    ----------
    heard : Heard
        One port.
    unit : str
        Unit of its numbers; with one that they can't be in nothing changes.
    columns : str
        Names of the columns that are probes, with commas, or ``"all"``; looked at where there are
        several.
    shapes : mapping of str to Shape
        The line formats.

    Raises
    ------
    InputError
        If there are several columns, and `columns` is empty or names another.
    """
    known = heard.in_unit(unit, shapes)
    if known is heard or len(heard.fields) < 2:
        return known
    wanted = f'write {ALL}, or names as in "{heard.fields[0]}"'
    if not columns.strip():
        raise InputError("columns", f"which are probes: {columns_text(heard)}?", wanted)
    names = re.findall(r"[^\s,;]+", columns)
    kept = heard.fields if names == [ALL] else tuple(f for f in heard.fields if f in names)
    lost = set(names) - set(heard.fields)
    if names != [ALL] and lost:
        raise InputError("columns", f"no column is named {min(lost)[:20]!r}", wanted)
    at = [heard.fields.index(field) for field in kept]
    left = [(field, "other quantity") for field in heard.fields if field not in kept]
    return replace(
        known,
        fields=kept,
        quantity=tuple(known.quantity[n] for n in at),
        reads=tuple(one for one in known.reads if one.field in kept),
        left_out=(*known.left_out, *left),
    )


def columns_text(heard: Heard) -> str:
    """Return the columns with what they show now."""
    now = {one.field: one.value for one in heard.reads}
    shown = [(f, now.get(f)) for f in heard.fields]
    return ", ".join(f if v is None else f"{f} {exact(v, PLACES)}" for f, v in shown)

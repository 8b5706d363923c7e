"""Wide and long tables of readings to columns of one channel in one unit.

Units are converted here, by pint. Takes a ``table`` and gives plain columns; used by ``importing``.
"""

import contextlib
import datetime
import math
import re
from collections.abc import Callable, Sequence

import numpy as np

from logger.model.quantity import convert, registry, unit_of
from logger.store.exchange.cells import is_formula
from logger.store.exchange.plainrows import Floats, Ints
from logger.store.exchange.table import Table

_HEAD = re.compile(r"(?P<id>[^\[\]]+?)\s*(?:\[(?P<unit>[^\[\]]*)\])?")
_BASES = ("degC", "g", "uV")
_ROUND = 9
"""Decimals kept of a converted value: the rounding of the conversion itself lies beyond them."""
LONG = ("channel", "value", "unit")
"""Columns that make a table a long one."""

Offsets = dict[datetime.timedelta | None, int]
"""Offsets to UTC that occur, with the first row of each."""


class Column:
    """What the file says of one channel in one unit."""

    takes_many = False
    """Whether it takes many readings at once, by `follows` and `add_many`."""

    def __init__(self, unit: str, base: str) -> None:
        self.unit, self.base = unit, base
        self.least = _coldest(unit) if base == "degC" else -math.inf
        self.rows: list[int] = []
        self.t_ns: list[int] = []
        self.value: list[float] = []
        self.flags: list[int] = []
        self.cold: list[float | None] = []

    def add(
        self, row: int, t_ns: int, value: float, flags: int = 0, cold: float | None = None
    ) -> None:
        """Add one reading.

        Parameters
        ----------
        row : int
            Row of the file.
        t_ns : int
            Time on the file's axis [ns].
        value : float
            In the unit of the column; nan stands for no value.
        flags : int
            Of `Flag`.
        cold : float or None
            Cold junction sent with an emf [degC].
        """
        self.rows.append(row)
        self.t_ns.append(t_ns)
        self.value.append(value)
        self.flags.append(flags)
        self.cold.append(cold)

    def follows(self, t_us: Ints) -> bool:
        """Return whether `add_many` takes readings at these times [us], which go forward."""
        return False

    def add_many(self, t_us: Ints, value: Floats) -> None:
        """Add readings that it said it takes: times [us], values in the column's unit."""
        raise NotImplementedError

    def clear(self) -> None:
        """Forget the readings so far."""
        for kept in (self.rows, self.t_ns, self.value, self.flags, self.cold):
            kept.clear()

    def values(self) -> list[float]:
        """Return the values in the base unit; those that are in it are left as they are."""
        if self.unit == self.base:
            return self.value
        given = registry().Quantity(np.array(self.value), self.unit)
        found: list[float] = (np.round(given.to(self.base).magnitude, _ROUND) + 0.0).tolist()
        return found


Part = Callable[[str, str, str], Column]
"""Makes the place for a channel's values in a unit: channel, unit, base unit."""


def _coldest(unit: str) -> float:
    """Return absolute zero in a unit of temperature, less what rounding may take."""
    return float(registry().Quantity(-273.15, "degC").to(unit).magnitude) - 1e-6


def base_of(unit: str) -> tuple[str, str]:
    """Return a unit as pint spells it and the unit that its values are stored in.

    Raises
    ------
    ValueError
        If it measures neither temperature nor mass nor a thermocouple's voltage.
    """
    for base in _BASES:
        with contextlib.suppress(ValueError):
            convert(1.0, unit, base)
            (name,) = unit_of(unit)
            return (base if unit_of(unit) == unit_of(base) else name), base
    raise ValueError("expected a unit of temperature, mass or voltage, such as degC, g or uV")


def _column(_: str, unit: str, base: str) -> Column:
    return Column(unit, base)


def read_table(table: Table, part: Part = _column) -> tuple[dict[str, list[Column]], Offsets]:
    """Return the columns of a table by channel.

    Parameters
    ----------
    table : Table
        Wide or long: its head says which.
    part : callable
        Makes the place for a channel's values in a unit: channel, unit, base unit.

    Raises
    ------
    InputError
        With row and column.
    """
    names = [name.lower() for name in table.head]
    return (_read_long if all(name in names for name in LONG) else _read_wide)(table, part)


def take_all(targets: Sequence[Column], t_ns: Ints, values: Sequence[Floats]) -> bool:
    """Give each column its readings, if all of them take theirs; return whether they did.

    Parameters
    ----------
    targets : sequence of Column
        One for each array of values.
    t_ns : array of int
        Times, which go forward [ns].
    values : sequence of array
        In the unit of each column; nan for an empty cell.
    """
    t_us = t_ns // 1000
    there = [~np.isnan(one) for one in values]
    if any((one < to.least).any() for to, one in zip(targets, values, strict=True)):
        return False
    if not all(to.follows(t_us[has]) for to, has in zip(targets, there, strict=True)):
        return False
    for to, has, value in zip(targets, there, values, strict=True):
        to.add_many(t_us[has], value[has])
    return True


def _read_wide(table: Table, part: Part) -> tuple[dict[str, list[Column]], Offsets]:
    """Return the columns of a wide table by channel, one each; an empty cell gives nothing."""
    columns: dict[str, list[Column]] = {}
    for place, head in enumerate(table.head[1:], 1):
        match = _HEAD.fullmatch(head)
        if match is None or match["unit"] is None:
            raise table.bad(1, place, repr(head), "name a column with its unit: fat [degC]")
        if match["id"] in columns:
            raise table.bad(1, place, repr(head), "that channel already has a column")
        unit = _base(table, 1, place, match["unit"].strip())
        columns[match["id"]] = [part(match["id"], *unit)]
    if not columns:
        raise table.bad(1, None, "no channel", "add a column such as fat [degC]")
    targets = [parts[0] for parts in columns.values()]
    offsets: Offsets = {}
    if all(target.takes_many for target in targets):
        table.offer(lambda t_ns, values: take_all(targets, t_ns, values))
    for row, cells in table.body():
        t_ns, offset = table.time(row, cells[0])
        offsets.setdefault(offset, row)
        for place, target in enumerate(targets, 1):
            cell = cells[place]
            if cell and not cell.isspace():
                target.add(row, t_ns, _number(table, row, place, target, cell))
    return columns, offsets


def _read_long(table: Table, make: Part) -> tuple[dict[str, list[Column]], Offsets]:
    """Return the columns of a long table by channel, one for each unit it was given in.

    An empty value is a reading without value, for which the flags may say why.
    """
    names = [name.lower() for name in table.head]
    at = {name: names.index(name) for name in (*LONG, "flags", "cold_junction_c") if name in names}
    by_unit: dict[tuple[str, str], Column] = {}
    columns: dict[str, list[Column]] = {}
    offsets: Offsets = {}
    for row, cells in table.body():
        t_ns, offset = table.time(row, cells[0])
        offsets.setdefault(offset, row)
        channel, unit = cells[at["channel"]].strip(), cells[at["unit"]].strip()
        target = by_unit.get((channel, unit))
        if target is None:
            target = _new_part(table, row, at, channel, unit, columns, make)
            by_unit[channel, unit] = target
        value, flags = cells[at["value"]], _cell(cells, at, "flags")
        cold = _cell(cells, at, "cold_junction_c")
        target.add(
            row,
            t_ns,
            _number(table, row, at["value"], target, value) if value.strip() else float("nan"),
            _flags(table, row, at, flags),
            table.number(row, at["cold_junction_c"], cold) if cold.strip() else None,
        )
    return columns, offsets


def _number(table: Table, row: int, place: int, target: Column, cell: str) -> float:
    """Return the number in a cell of a channel; a temperature that cannot be is refused."""
    value = table.number(row, place, cell)
    if value < target.least:
        wanted = "below absolute zero; leave the cell empty where there is no value"
        raise table.bad(row, place, repr(cell[:60]), wanted)
    return value


def _cell(cells: list[str], at: dict[str, int], name: str) -> str:
    return cells[at[name]] if name in at else ""


def _new_part(
    table: Table,
    row: int,
    at: dict[str, int],
    channel: str,
    unit: str,
    columns: dict[str, list[Column]],
    make: Part,
) -> Column:
    """Return the place for a channel's values in a unit that it has not had before."""
    if not channel or is_formula(channel):
        raise table.bad(row, at["channel"], repr(channel), "name a channel")
    part = make(channel, *_base(table, row, at["unit"], unit))
    parts = columns.setdefault(channel, [])
    if parts and parts[0].base != part.base:
        raise table.bad(
            row, at["unit"], repr(unit), f"channel {channel!r} was in {parts[0].unit} before"
        )
    parts.append(part)
    return part


def _flags(table: Table, row: int, at: dict[str, int], cell: str) -> int:
    if not cell.strip():
        return 0
    if re.fullmatch(r"\d{1,9}", cell.strip(), re.ASCII) is None:
        raise table.bad(row, at["flags"], repr(cell), "flags are a whole number")
    return int(cell)


def _base(table: Table, row: int, place: int, unit: str) -> tuple[str, str]:
    try:
        return base_of(unit)
    except ValueError as cause:
        raise table.bad(row, place, f"unit {unit!r}", str(cause)) from cause

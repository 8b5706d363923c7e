"""One change of the form, made in the text of the sheet: comments, order and all else stay.

Pure. A value that is there is changed in place, a new one goes behind the last of its table. What
comes out is compared with what it should hold; where that can't be had, the text is left as it is.
"""

import copy
import datetime
import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from logger.batch.form.fields import Field, head_fields, stage_fields, table_fields
from logger.batch.form.places import Path, Table, at_path, paths_of
from logger.batch.form.reading import NO_NAMES, written
from logger.batch.form.tables import moved, spans_of, with_line, with_table, without
from logger.batch.text_edits import Edit, edited
from logger.model.errors import InputError
from logger.model.files import MAX_TEXT, table_of
from logger.model.kinds.registry import kind_named
from logger.model.quantity import number_in

MOST_VALUE = 2_000
"""Longest value that is typed [characters]."""
_BARE = re.compile(r"\s*[-+−]?[0-9]+(?:\.[0-9]+)?\s*")
Value = str | int | float | bool | list[str] | None
_COMMA = re.compile(r"(?<![0-9.,])([0-9]+),([0-9]{1,2}|[0-9]{4,}|(?<=0,)[0-9]+)(?![0-9.,])")
_BY_HAND = "write it in the text"
_GUESSED_UNITS = ("g", "%", "mm", "degC", "K", "g/min", "g/ml")
"""In which a bare number is taken: not in seconds, for who types 8 means minutes."""
_REQUIRED = ("name", "id")
_DATES = (datetime.date, datetime.datetime)


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What was done in the form.

    Attributes
    ----------
    act : str
        ``set`` a value, ``add`` a table behind `place`, ``remove`` one, ``move`` one to `to`.
    table : str
        Of which the table is.
    place : int
        Counted from zero among those of its name; to ``add`` one inside another, that other's.
    path : tuple of str
        Keys below the table, for ``set``; ``("amount",)`` of an ingredient is mass or amount.
    value : str
        As it was typed; empty takes the key out. Of a new stage its kind.
    to : int
        Where to, for ``move``.
    values : tuple of (str, str)
        Keys of a new ingredient with what was typed, empty ones left out.
    """

    act: Literal["set", "add", "remove", "move"]
    table: Table
    place: int = 0
    path: tuple[str, ...] = ()
    value: str = ""
    to: int = 0
    values: tuple[tuple[str, str], ...] = ()


def changed(text: str, name: str, changes: Sequence[Change]) -> str:
    """Return a text with changes of the form made in it, in their order.

    Parameters
    ----------
    text : str
        TOML.
    name : str
        What messages call it.
    changes : sequence of Change
        What was done.

    Raises
    ------
    InputError
        If the text is no TOML, or a change can't be made without touching something else.
    """
    for change in changes:
        text = _changed(text, name, change)
    return text


def with_points(text: str) -> str:
    """Return a quantity with points for commas that can only be those of decimals.

    A comma with three digits behind it may be one of thousands: it stays, and is asked about.

    Parameters
    ----------
    text : str
        As it was typed.
    """
    return _COMMA.sub(r"\1.\2", text)


def _changed(text: str, name: str, change: Change) -> str:
    data = table_of(text, name)
    if change.place < 0 or change.to < 0:
        raise InputError(f"{name}: {_where(change)}", "no place to write it", _BY_HAND)
    if len(change.value) > MOST_VALUE:
        raise InputError(name, f"{len(change.value)} characters", f"at most {MOST_VALUE}")
    try:
        if change.act == "set":
            new, wanted = _set(text, name, data, change)
        else:
            new, wanted = _shaped(text, data, change)
    except (LookupError, TypeError, AttributeError, ValueError) as cause:
        raise InputError(f"{name}: {_where(change)}", "no place to write it", _BY_HAND) from cause
    if len(new) > MAX_TEXT or _read(new, name) != wanted:
        raise InputError(f"{name}: {_where(change)}", "the text is written another way", _BY_HAND)
    return new


def _read(text: str, name: str) -> dict[str, Any] | None:
    try:
        return table_of(text, name)
    except InputError:
        return None


def _where(change: Change) -> str:
    table = change.table if change.table == "sheet" else f"{change.table}[{change.place + 1}]"
    return ".".join((table, *change.path))


def _shaped(text: str, data: dict[str, Any], change: Change) -> tuple[str, dict[str, Any]]:
    lines, wanted = text.split("\n"), copy.deepcopy(data)
    outer, _, inner = change.table.rpartition(".")
    if change.table == "sheet" or (inner and outer and change.act == "move"):
        raise LookupError("there is one, or it stays where it is")
    if change.act == "add":
        return _added(text, wanted, change)
    path = paths_of(wanted, change.table)[change.place]
    holder, key, place = at_path(wanted, path[:-2]), path[-2], int(path[-1])
    if change.act == "move":
        tables: list[Any] = holder[key]
        tables.insert(change.to, tables.pop(place))
        return "\n".join(moved(lines, change.table, change.place, change.to)), wanted
    holder[key].pop(place)
    if not holder[key]:
        del holder[key]
    return "\n".join(without(lines, change.table, change.place)), wanted


def _added(text: str, wanted: dict[str, Any], change: Change) -> tuple[str, dict[str, Any]]:
    """Return the text with a new table: behind another, or as the last inside one."""
    end = [] if text.endswith("\n") or not text else [""]
    lines = [*text.split("\n"), *end]
    outer, _, inner = change.table.rpartition(".")
    if outer:
        holder = wanted[outer][change.place]
        tables: list[Any] = holder.setdefault(inner, [])
        values, new = _new_table(change, tables)
        tables.append(values)
        at = spans_of(lines, outer)[change.place].end
        return "\n".join([*lines[:at], "", *new, *lines[at:]]), wanted
    tables = wanted.setdefault(change.table, [])
    values, new = _new_table(change, tables)
    tables.insert(min(change.place + 1, len(tables)), values)
    return "\n".join(with_table(lines, change.table, change.place, new)), wanted


def _new_table(change: Change, tables: Sequence[Any]) -> tuple[dict[str, Any], list[str]]:
    """Return a new table and its lines: with an id of its own, or a name to be typed."""
    values: dict[str, Any] = {}
    if change.table == "stage":
        kind = kind_named(change.value)
        if kind is None:
            raise LookupError(change.value)
        values = {"id": _own_id(kind.name, tables), "kind": kind.name, "title": kind.title}
    elif change.table == "vessel":
        values = {"id": _own_id("vessel", tables)}
    else:
        for key, typed in ({"name": ""} | dict(change.values)).items():
            one = _value(Change(act="set", table=change.table, path=(key,), value=typed), {})
            own = "mass" if key == "amount" and _is_mass(str(one)) else key
            values |= {own: one} if one is not None else {}
    lines = [f"[[{change.table}]]", *(f"{key} = {_toml(one)}" for key, one in values.items())]
    if change.table == "subrecipe":  # it can't be without
        values["ingredient"] = [{"name": ""}]
        lines += ["", "[[subrecipe.ingredient]]", 'name = ""']
    return values, lines


def _own_id(name: str, tables: Sequence[Any]) -> str:
    taken = {one.get("id") for one in tables if isinstance(one, dict)}
    ids = [name, *(f"{name}_{n}" for n in range(2, len(taken) + 3))]
    return next(one for one in ids if one not in taken)


def _set(text: str, name: str, data: dict[str, Any], change: Change) -> tuple[str, dict[str, Any]]:
    wanted = copy.deepcopy(data)
    at = paths_of(wanted, change.table)[change.place]
    table: Any = at_path(wanted, at)
    value, path = _value(change, table), change.path
    if path == ("amount",) and change.table in ("ingredient", "subrecipe.ingredient"):
        text, path = _amount_key(text, table, str(value or ""), change)
    if path[0] in table:
        return _in_place(text, name, wanted, at, change, path, value)
    if value is None:
        return text, wanted
    inner: Any = value
    for key in reversed(path[1:]):
        inner = {key: inner}
    table[path[0]] = inner
    line = f"{path[0]} = {_toml(inner)}"
    return "\n".join(with_line(text.split("\n"), change.table, change.place, line)), wanted


def _in_place(
    text: str,
    name: str,
    wanted: dict[str, Any],
    at: Path,
    change: Change,
    path: tuple[str, ...],
    value: Value,
) -> tuple[str, dict[str, Any]]:
    """Change a value that is there, or one of a band that is there; an empty band goes."""
    table = at_path(wanted, at)
    here = at_path(table, path[:-1])
    was = here.get(path[-1])
    same = was == value and type(was) is type(value)
    if value is not None and (same or (isinstance(was, _DATES) and written(was) == value)):
        return text, wanted
    if isinstance(was, list) and "#" in _written_at(text, (*at, *path)):
        raise LookupError("comments inside would be lost")
    if value is not None:
        here[path[-1]] = value
        in_line = _in_line(text, change, path, value)
        if in_line is not None:
            return in_line, wanted
        return edited(text, name, [Edit(path=(*at, *path), value=value)]), wanted
    if path[-1] not in here:
        return text, wanted
    del here[path[-1]]
    if here and len(path) > 1:
        return edited(text, name, [Edit(path=(*at, *path), value=None)]), wanted
    table.pop(path[0], None)
    comment = _comment_of(text, at, path[0])
    text = edited(text, name, [Edit(path=(*at, path[0]), value=None)])
    if comment:
        lines = with_line(text.split("\n"), change.table, change.place, comment)
        text = "\n".join(lines)
    return text, wanted


def _written_at(text: str, path: Path) -> str:
    """Return a value as it is written, with the comments inside it."""
    import tomlkit

    return str(at_path(tomlkit.parse(text), path).as_string())


def _comment_of(text: str, at: Path, key: str) -> str:
    """Return the comment behind a value: it outlives the value."""
    import tomlkit

    here = at_path(tomlkit.parse(text), at)
    return str(here.item(key).trivia.comment)


def _in_line(text: str, change: Change, path: tuple[str, ...], value: Value) -> str | None:
    """Return the text with a plain text of one line changed; None where it is written another way.

    A twentieth of the time that the whole text takes to be read and written.
    """
    place = change.place
    if len(path) > 2 or not isinstance(value, str):
        return None
    lines = text.split("\n")
    spans = spans_of(lines, change.table)
    if place >= len(spans):
        return None
    head, last = (rf"\s*{re.escape(path[0])}\s*=\s*", r"\s*(?:#.*)?")
    if len(path) == 2:
        head += rf"\{{(?:[^{{}}#]*[\s,])?{re.escape(path[1])}\s*=\s*"
        last = rf"[^{{}}#]*\}}{last}"
    key = re.compile(rf'({head})"[^"\\]*"({last})')
    for line in range(spans[place].head, spans[place].own_end):
        found = key.fullmatch(lines[line])
        if found is not None:
            lines[line] = f"{found[1]}{_text(value)}{found[2]}"
            return "\n".join(lines)
    return None


def _amount_key(
    text: str, table: dict[str, Any], value: str, change: Change
) -> tuple[str, tuple[str, ...]]:
    """Return the text with the key that an amount needs, and that key: mass is for a mass alone."""
    is_mass = _is_mass(value)
    if "amount" in table or ("mass" in table and (is_mass or not value)):
        return text, ("amount",) if "amount" in table else ("mass",)
    if "mass" not in table:
        return text, ("mass",) if is_mass else ("amount",)
    lines = text.split("\n")
    span = spans_of(lines, change.table)[change.place]
    for at in range(span.head, span.own_end):
        if re.match(r"\s*mass\s*=", lines[at]):
            lines[at] = lines[at].replace("mass", "amount", 1)
            items = [("amount" if key == "mass" else key, v) for key, v in table.items()]
            table.clear()
            table.update(items)
            return "\n".join(lines), ("amount",)
    raise LookupError("mass")


def _is_mass(text: str) -> bool:
    try:
        number_in(text, "g")
    except ValueError:
        return False
    return True


def _value(change: Change, table: dict[str, Any]) -> Value:
    """Return what is written for what was typed; None takes the key out."""
    typed = change.value.strip()
    field = _field(change, table)
    if not typed:
        return "" if change.path[-1] in _REQUIRED and change.table != "sheet" else None
    if field.shape == "switch":
        return typed == "true"
    if field.shape == "list":
        names = [one.strip() for one in re.split(r"[,;]", typed)]
        return [] if typed == NO_NAMES else [one for one in names if one]
    if field.unit:
        typed = with_points(typed)
    if field.shape == "count" and re.fullmatch(r"[0-9]{1,9}", typed):
        return int(typed)
    if field.shape == "count" and re.fullmatch(r"[-−]?[0-9]{1,9}(?:\.[0-9]{1,9})?", typed):
        return float(typed.replace("−", "-"))
    if field.unit in _GUESSED_UNITS and _BARE.fullmatch(typed):
        return f"{typed.replace('−', '-')} {field.unit}"
    return typed


def _field(change: Change, table: dict[str, Any]) -> Field:
    if change.table == "sheet":
        known = head_fields()
    elif change.table == "stage":
        known = stage_fields(str(table.get("kind", "")))
    else:
        known = table_fields(change.table)
    if change.table == "ingredient" and change.path in (("name",), ("phase",)):
        return Field(path=change.path)
    found = next((one for one in known if one.path == change.path), None)
    if found is None:
        raise LookupError(change.path)
    return found


def _toml(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_toml(one)}" for key, one in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_toml(one) for one in value) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value) if isinstance(value, int | float) else _text(str(value))


def _text(value: str) -> str:
    # A JSON string is a TOML basic string but for the delete character.
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")

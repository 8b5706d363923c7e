"""Fats as a file says them: read from TOML, laid on top of others, and written.

Pure but for reading the built-in ``fats.toml`` that lies beside this module. A person's own fats
come in as text that the caller has read, and are laid on top: their fields win, the rest stays.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace
from importlib.resources import files
from itertools import pairwise
from typing import Any

import numpy as np

from logger.model.errors import InputError
from logger.model.files import table_of
from logger.science.fats.fats import UNVERIFIED, Datum, Fat, fat_of_limits

_DATA_KEYS = ("all_melted_above_c", "sets_below_c", "cp_liquid_j_g_k", "latent_j_g")


def builtin_fats() -> dict[str, Fat]:
    """Return the fats that come with the program, by key."""
    text = files("logger.science").joinpath("fats.toml").read_text(encoding="utf-8")
    return fats_from_toml(text, "fats.toml")


def fats_from_toml(text: str, where: str, base: Mapping[str, Fat] | None = None) -> dict[str, Fat]:
    """Read fats and lay them on top of others.

    Parameters
    ----------
    text : str
        TOML as in the built-in file. A fat that is in `base` may name only the fields it changes;
        a new one needs both limits, the rest is filled with generic values.
    where : str
        Name of the file, for messages.
    base : mapping or None
        Fats underneath.

    Returns
    -------
    dict
        Fats by key: those of `base`, changed and added to.

    Raises
    ------
    InputError
        If the text is no TOML, a key is unknown or missing, or numbers do not fit together.
    """
    tables = table_of(text, where)
    fats = dict(base or {})
    for key, table in tables.items():
        spot = f"{where}: {key}"
        if not isinstance(table, dict):
            raise InputError(spot, repr(table), "a table [name_of_fat] with its numbers")
        fats[key] = _fat(key, table, spot, fats.get(key))
    return fats


def fat_as_toml(fat: Fat) -> str:
    """Write one fat as TOML that `fats_from_toml` reads, numbers with their sources."""

    def datum(name: str, data: Datum, extra: str = "") -> str:
        source = _quoted(data.source)
        return f"{name} = {{ value = {data.value!r}, u = {data.u!r}, {extra}source = {source} }}"

    lines = [f"[{fat.key}]", f"name = {_quoted(fat.name)}"]
    lines += [datum(name, getattr(fat, name)) for name in _DATA_KEYS]
    lines.append(datum("density_kg_m3", fat.density_kg_m3, f"at_c = {fat.density_at_c!r}, "))
    lines.append(f"solid_at_c = {list(fat.solid_at_c)!r}")
    lines.append(
        f"solid_percent = {{ value = {list(fat.solid_percent)!r}, u = {fat.u_solid_percent!r}, "
        f"source = {_quoted(fat.solid_source)} }}"
    )
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    """Quote text as a TOML basic string."""
    plain = "".join(c if c.isprintable() else " " for c in text)
    return '"' + plain.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _fat(key: str, table: dict[str, Any], where: str, below: Fat | None) -> Fat:
    """Build one fat from its table, over what lies below it."""
    known = {field.name for field in fields(Fat)} - {"key", "density_at_c", "u_solid_percent"}
    unknown = sorted(set(table) - (known - {"solid_source"}))
    if unknown:
        raise InputError(f"{where}.{unknown[0]}", "an unknown key", f"one of {sorted(known)}")
    name = str(table.get("name", below.name if below else key.replace("_", " ")))
    data = {k: _datum(table[k], f"{where}.{k}") for k in _DATA_KEYS if k in table}
    if below is None:
        missing = [k for k in ("all_melted_above_c", "sets_below_c") if k not in data]
        if missing:
            raise InputError(f"{where}.{missing[0]}", "nothing", "a fat needs both limits")
        below = fat_of_limits(key, name, data["all_melted_above_c"], data["sets_below_c"])
    changes: dict[str, Any] = {"key": key, "name": name, **data}
    if "density_kg_m3" in table:
        changes["density_kg_m3"] = _datum(table["density_kg_m3"], f"{where}.density_kg_m3")
        changes["density_at_c"] = _number(
            table["density_kg_m3"].get("at_c"), f"{where}.density_kg_m3.at_c"
        )
    if "solid_percent" in table or "solid_at_c" in table:
        changes |= _solid(table, where)
    fat = replace(below, **changes)
    if fat.sets_below_c.value >= fat.all_melted_above_c.value:
        raise InputError(
            f"{where}.sets_below_c",
            f"{fat.sets_below_c.value:g} degC",
            f"a value under all_melted_above_c, {fat.all_melted_above_c.value:g} degC",
        )
    return fat


def _solid(table: dict[str, Any], where: str) -> dict[str, Any]:
    at_c, content = table.get("solid_at_c"), table.get("solid_percent")
    spot = f"{where}.solid_percent"
    if not isinstance(at_c, list) or not isinstance(content, dict):
        raise InputError(spot, "half a table", "give solid_at_c and solid_percent together")
    values = content.get("value")
    if not isinstance(values, list) or len(values) != len(at_c) or len(at_c) < 2:
        raise InputError(spot, "lists of different length", "one value for each of solid_at_c")
    temps = tuple(_number(t, f"{where}.solid_at_c") for t in at_c)
    shares = tuple(_number(v, spot) for v in values)
    rising = all(a < b for a, b in pairwise(temps))
    falling = all(a >= b for a, b in pairwise(shares))
    if not rising or not falling or min(shares) < 0.0 or max(shares) > 100.0:
        raise InputError(spot, str(list(shares)), "0 to 100 %, falling as the temperatures rise")
    return {
        "solid_at_c": temps,
        "solid_percent": shares,
        "u_solid_percent": _number(content.get("u", 15.0), f"{spot}.u"),
        "solid_source": _source(content, spot),
    }


def _datum(table: Any, where: str) -> Datum:
    if not isinstance(table, dict) or "value" not in table:
        raise InputError(where, repr(table), '{ value = 30.0, u = 1.0, source = "..." }')
    unknown = sorted(set(table) - {"value", "u", "source", "at_c"})
    if unknown:
        raise InputError(f"{where}.{unknown[0]}", "an unknown key", "value, u, source")
    u = _number(table.get("u"), f"{where}.u")
    if u < 0.0:
        raise InputError(f"{where}.u", f"{u:g}", "a standard uncertainty of 0 or more")
    return Datum(value=_number(table["value"], where), u=u, source=_source(table, where))


def _source(table: dict[str, Any], where: str) -> str:
    source = table.get("source")
    if not isinstance(source, str) or not source.strip():
        raise InputError(f"{where}.source", repr(source), f'a source, or "{UNVERIFIED}"')
    return source


def _number(value: Any, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not np.isfinite(value):
        raise InputError(where, repr(value), "a number")
    return float(value)

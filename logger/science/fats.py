"""What is known of each fat: two limits, solid fat content, heat and density, with sources.

Pure but for reading the built-in ``fats.toml`` that lies beside this module. A person's own fats
come in as text that the caller has read, and are laid on top: their fields win, the rest stays.
Used by mixing, emulsion and the watchers of warm phases.

Two limits per fat, because one number is wrong for both questions: *all melted above* and *bulk
starts setting below*. Both are of the bulk in a vessel; droplets supercool far below them.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from importlib.resources import files
from itertools import pairwise
from typing import Any

import numpy as np

from logger.model.errors import InputError

UNVERIFIED = "typical, unverified"
GENERIC_DENSITY_SLOPE = -0.41757
"""Change of the density of fat [kg/m3 per K]: Choi and Okos (1986), from memory."""
_DATA_KEYS = ("all_melted_above_c", "sets_below_c", "cp_liquid_j_g_k", "latent_j_g")


@dataclass(frozen=True, slots=True, kw_only=True)
class Datum:
    """One number with its standard uncertainty and its source."""

    value: float
    u: float
    source: str

    @property
    def unverified(self) -> bool:
        """Whether the number has no source that was checked."""
        return self.source.startswith(UNVERIFIED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fat:
    """One fat.

    Attributes
    ----------
    key, name : str
        Key in the file and the name a person reads.
    all_melted_above_c : Datum
        Above this it is wholly melted [degC].
    sets_below_c : Datum
        Below this the melted bulk may start to set at bench rates [degC].
    cp_liquid_j_g_k : Datum
        Specific heat of the melted fat [J/(g K)].
    latent_j_g : Datum
        Heat given off when all of it sets [J/g].
    density_kg_m3 : Datum
        Density of the melted fat at `density_at_c` [kg/m3].
    density_at_c : float
        Temperature of that density [degC].
    solid_at_c, solid_percent : tuple of float
        Solid fat content: temperatures [degC], rising, and values [%], falling to 0.
    u_solid_percent : float
        Standard uncertainty of a solid fat content [percentage points].
    solid_source : str
        Where the solid fat content comes from.
    """

    key: str
    name: str
    all_melted_above_c: Datum
    sets_below_c: Datum
    cp_liquid_j_g_k: Datum
    latent_j_g: Datum
    density_kg_m3: Datum
    density_at_c: float
    solid_at_c: tuple[float, ...]
    solid_percent: tuple[float, ...]
    u_solid_percent: float
    solid_source: str

    def solid_share(self, temp_c: float) -> float:
        """Solid share at rest at a temperature, 0 to 1 (straight lines between the points).

        Above `all_melted_above_c` it is 0 whatever the table says; below the coldest point it
        stays at that point's value.
        """
        if temp_c >= self.all_melted_above_c.value:
            return 0.0
        return float(np.interp(temp_c, self.solid_at_c, self.solid_percent)) / 100.0

    def density_at(self, temp_c: float) -> float:
        """Density of the melted fat [kg/m3] at a temperature [degC]."""
        return self.density_kg_m3.value + GENERIC_DENSITY_SLOPE * (temp_c - self.density_at_c)


def generic_cp_j_g_k(temp_c: float) -> float:
    """Specific heat of a fat of which nothing else is known.

    Parameters
    ----------
    temp_c : float
        Temperature [degC].

    Returns
    -------
    float
        Specific heat [J/(g K)].

    References
    ----------
    Choi, Y. and Okos, M. R. (1986), "Effects of temperature and composition on the thermal
    properties of foods", Food Engineering and Process Applications 1, 93-101 (from memory).
    """
    return 1.9842 + 1.4733e-3 * temp_c - 4.8008e-6 * temp_c**2


def generic_density_kg_m3(temp_c: float) -> float:
    """Density of a fat of which nothing else is known [kg/m3]; source as `generic_cp_j_g_k`."""
    return 925.59 + GENERIC_DENSITY_SLOPE * temp_c


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
    try:
        tables = tomllib.loads(text)
    except (ValueError, RecursionError) as cause:
        raise InputError(where, str(cause), "correct the TOML") from cause
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


def with_measured_limits(
    fat: Fat | None, *, key: str, name: str, sets_below_c: Datum, melted_above_c: Datum | None
) -> Fat:
    """Give a fat the setting limit that was measured on it, keeping what else is known.

    Parameters
    ----------
    fat : Fat or None
        What was known of it; None for a new fat, which gets generic values.
    key, name : str
        Key in the file and name.
    sets_below_c : Datum
        Measured onset of setting [degC].
    melted_above_c : Datum or None
        Measured or given upper limit [degC]; None keeps that of `fat`, or is estimated 12 K above
        the onset and marked as unverified.
    """
    if fat is None:
        guess = Datum(
            value=sets_below_c.value + 12.0,
            u=5.0,
            source=f"{UNVERIFIED}: 12 K above the measured onset",
        )
        return _new_fat(key, name, melted_above_c or guess, sets_below_c)
    return replace(
        fat,
        key=key,
        name=name,
        sets_below_c=sets_below_c,
        all_melted_above_c=melted_above_c or fat.all_melted_above_c,
    )


def _quoted(text: str) -> str:
    """Quote text as a TOML basic string."""
    plain = "".join(c if c.isprintable() else " " for c in text)
    return '"' + plain.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _new_fat(key: str, name: str, melted: Datum, sets: Datum) -> Fat:
    """Build a fat from its two limits; the rest is generic and says so."""
    melted_c, sets_c = melted.value, sets.value
    return Fat(
        key=key,
        name=name,
        all_melted_above_c=melted,
        sets_below_c=sets,
        cp_liquid_j_g_k=Datum(
            value=generic_cp_j_g_k(50.0), u=0.1, source=f"{UNVERIFIED}: generic fat"
        ),
        latent_j_g=Datum(value=115.0, u=25.0, source=f"{UNVERIFIED}: generic fat"),
        density_kg_m3=Datum(
            value=generic_density_kg_m3(50.0), u=10.0, source=f"{UNVERIFIED}: generic fat"
        ),
        density_at_c=50.0,
        solid_at_c=(sets_c - 10.0, sets_c, melted_c),
        solid_percent=(80.0, 40.0, 0.0),
        u_solid_percent=15.0,
        solid_source=f"{UNVERIFIED}: generic fat",
    )


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
        below = _new_fat(key, name, data["all_melted_above_c"], data["sets_below_c"])
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

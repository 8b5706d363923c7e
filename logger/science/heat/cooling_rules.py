"""Named rule sets for cooling and holding, read from ``rulesets.toml`` beside this module.

Pure but for reading that file. A sheet names a set; sets of different families are never mixed in
one run. A set is a record of what a text asks; following local regulation stays with the kitchen.
"""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Literal

from logger.model.errors import InputError
from logger.science.heat.lethality import LethalityTable

DEFAULT_FAMILY = "FDA Food Code"
"""Family whose range is used where a sheet names no set."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingStep:
    """Down to a limit within a time."""

    limit_c: float
    within_s: float
    counted_from: Literal["start", "previous"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingRule:
    """How fast cooked or mixed food must cool.

    Attributes
    ----------
    starts_below_c : float or None
        The clock starts when the core leaves this [degC]; None starts it with the stage.
    steps : tuple of CoolingStep
        In order.
    """

    key: str
    title: str
    edition: str
    family: str
    steps: tuple[CoolingStep, ...]
    starts_below_c: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldingRule:
    """How food must be kept: warm, cold, or not longer than a time."""

    key: str
    title: str
    edition: str
    family: str
    low_c: float | None = None
    high_c: float | None = None
    within_s: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """The range in which food should not stay long [degC]."""

    family: str
    title: str
    low_c: float
    high_c: float


def cooling_rule(key: str) -> CoolingRule:
    """Return a cooling rule set.

    Raises
    ------
    InputError
        If there is none of that name; the message lists those there are.
    """
    table = _named("cooling", key)
    steps = tuple(
        CoolingStep(
            limit_c=step["limit_c"], within_s=step["within_h"] * 3600.0, counted_from=step["from"]
        )
        for step in table["steps"]
    )
    return CoolingRule(
        key=key, steps=steps, starts_below_c=table.get("starts_below_c"), **_head(table)
    )


def holding_rule(key: str) -> HoldingRule:
    """Return a holding rule set. Raises as `cooling_rule`."""
    table = _named("holding", key)
    within_h = table.get("within_h")
    return HoldingRule(
        key=key,
        low_c=table.get("low_c"),
        high_c=table.get("high_c"),
        within_s=within_h * 3600.0 if within_h is not None else None,
        **_head(table),
    )


def lethality_table(key: str) -> LethalityTable:
    """Return a lethality table. Raises as `cooling_rule`."""
    table = _named("lethality", key)
    return LethalityTable(
        key=key,
        title=table["title"],
        edition=table["edition"],
        family=table["family"],
        organism=table["organism"],
        food=table["food"],
        limits=table["limits"],
        log_reduction=table["log_reduction"],
        temps_c=tuple((temp_f - 32.0) / 1.8 for temp_f, _ in table["rows_f_s"]),
        times_s=tuple(float(time_s) for _, time_s in table["rows_f_s"]),
    )


def zone_of(family: str) -> Zone:
    """Return the range of a family of rule sets; that of `DEFAULT_FAMILY` where it has none."""
    zones = _tables()["zone"]
    family = family if family in zones else DEFAULT_FAMILY
    return Zone(family=family, **zones[family])


def names(kind: Literal["cooling", "holding", "lethality"]) -> list[str]:
    """Return the keys of all rule sets of a kind."""
    return list(_tables()[kind])


@cache
def _tables() -> dict[str, Any]:
    text = files("logger.science").joinpath("rulesets.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def _named(kind: Literal["cooling", "holding", "lethality"], key: str) -> dict[str, Any]:
    found: dict[str, Any] | None = _tables()[kind].get(key)
    if found is None:
        what = "lethality" if kind == "lethality" else "rule_set"
        raise InputError(
            what, f"no {kind} rule set {key!r}", f"write one of {', '.join(names(kind))}"
        )
    return found


def _head(table: dict[str, Any]) -> dict[str, str]:
    return {
        "title": table["title"],
        "edition": table["edition"],
        "family": table["family"],
        "note": table.get("note", ""),
    }

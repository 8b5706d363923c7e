"""The cooling or holding rule set that a stage of the sheet names.

Pure look-ups; used by logger.batch.names and logger.watch.stages.core.danger.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from logger.model.errors import InputError
from logger.model.kinds.registry import Stage, kind_of
from logger.model.sheet import Sheet, WrittenSheet
from logger.science.heat.cooling_rules import (
    CoolingRule,
    HoldingRule,
    cooling_rule,
    holding_rule,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedRule:
    """A rule set that a stage names.

    Attributes
    ----------
    place : int
        Number of the stage in the sheet, from 1.
    rule : CoolingRule or HoldingRule
        What the name stands for.
    """

    place: int
    key: str
    rule: CoolingRule | HoldingRule


def rule_set_of(stage: Stage) -> str | None:
    """Return the name of the rule set that a stage goes by, or None."""
    if kind_of(stage).rule_sets is None:
        return None
    named: str | None = getattr(stage, "rule_set", None)
    return named


def named_rules(sheet: Sheet | WrittenSheet) -> Iterator[NamedRule]:
    """Yield the rule sets that a sheet names, in its order; names that stand for nothing are left
    out (logger.batch.names tells them)."""
    for place, stage in enumerate(sheet.stage, start=1):
        key = rule_set_of(stage)
        if key is None:
            continue
        look_up = cooling_rule if kind_of(stage).rule_sets == "cooling" else holding_rule
        try:
            yield NamedRule(place=place, key=key, rule=look_up(key))
        except InputError:
            continue

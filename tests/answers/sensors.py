"""What readings of many sensors are worth: their budgets, checks, and what is said of both."""

import itertools
from collections.abc import Iterator

from tests.answers.lines import written
from tests.correct.sensors import PLAIN_K, SCALE, TYPE_T, corrector

PROBES = (
    None, PLAIN_K, TYPE_T, {**TYPE_T, "cold_junction": "0.7 K"},
    {"kind": "thermocouple", "type": "J", "class": "standard", "standard": "ASTM E230"},
    {"kind": "thermocouple", "assumed": True}, {"kind": "rtd", "assumed": True},
    {"kind": "rtd", "accuracy": "0.3 K"}, {"kind": "other", "assumed": True},
)  # fmt: skip
SCALES = (
    None, SCALE, {"kind": "balance", "oiml_class": "III", "verification_interval": "1 g"},
    {"kind": "balance", "linearity": "0.3 g"}, {"kind": "balance", "assumed": True},
)  # fmt: skip
CHECKS = (
    None, {"offset": "0.4 K", "checked": "2026-11-02", "by": "ice point"},
    {"offset": "-0.2 K", "checked": "2025-01-31", "by": "ice point", "u": 0.1},
    {"points": [[0.2, 0.0], [99.1, 98.4]], "checked": "2026-10-01", "by": "two points"},
)  # fmt: skip
TEMPS_C, MASSES_G = (-12.0, 0.0, 21.5, 63.0, 98.4), (0.0, 4.2, 180.0, 2617.4)


def budgets() -> Iterator[str]:
    """Yield the lines of each budget, its standing, and corrected values."""
    for sensor, check in itertools.product(PROBES, CHECKS):
        steps = {"resolution": 0.1} if check else {}
        yield from _one("degC", TEMPS_C, sensor=sensor, correction=check, **steps)
    for sensor in SCALES:
        yield from _one("g", MASSES_G, sensor=sensor, role="bath_scale", resolution=0.1)


def _one(unit: str, values: tuple[float, ...], **table: object) -> Iterator[str]:
    made = corrector(**table)
    yield f"{table}: {made.known} {made.assumed} {made.overdue_days} {made.unset}"
    yield f"  {written(made.standing)}"
    for term in made.terms:
        us = written([term.at(value) for value in values])
        yield f"  {term.name}: {term.source}, {term.distribution} {us}"
    yield f"  {written([made.value(value, unit) for value in values])}"

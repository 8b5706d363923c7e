"""Which watcher looks after which kind of stage, and which watchers live as long as the run.

Pure; used by logger.watch.run and course. A new stage kind needs a table in logger.model.sheet and
a line here.
"""

import importlib
import importlib.util
from collections.abc import Callable

from logger.watch import chill, cook, emulsify, fatcurve, heat, hold, hydrate, weigh
from logger.watch.contract import Context, Watcher
from logger.watch.danger import DangerZone
from logger.watch.plain import Plain

Maker = Callable[[Context], Watcher]

_MAKERS: dict[str, Maker] = {
    "weigh": weigh.make,
    "hydrate": hydrate.make,
    "heat": heat.make,
    "emulsify": emulsify.make,
    "chill": chill.make,
    "cook": cook.make,
    "hold": hold.make,
    "fat_curve": fatcurve.make,
}
_OPTIONAL = {"form": "form", "coat": "coat", "set": "setbath", "rinse": "rinse", "dry": "dry"}
"""Kinds whose module may not be there: the stage then only keeps time."""


def make(context: Context) -> Watcher:
    """Return the watcher of the stage of `context`.

    Raises
    ------
    ValueError
        If the context has no stage.
    """
    if context.stage is None:
        raise ValueError("a stage watcher needs a stage; run-long watchers come from run_long()")
    return _maker(context.stage.kind)(context)


def run_long(context: Context) -> list[Watcher]:
    """Return the watchers that live as long as the run, besides health."""
    return [DangerZone(context)]


def _maker(kind: str) -> Maker:
    if kind in _MAKERS:
        return _MAKERS[kind]
    name = f"logger.watch.{_OPTIONAL[kind]}"
    if importlib.util.find_spec(name) is None:
        return Plain
    maker: Maker = importlib.import_module(name).make
    return maker

"""Which watcher looks after which kind of stage, and which watchers live as long as the run.

Pure; used by logger.watch.engine alone. A new stage kind needs a table in logger.model.sheet and a
line here.
"""

import importlib
from collections.abc import Callable
from typing import Any

from logger.watch.contract import Context, Watcher
from logger.watch.danger import DangerZone
from logger.watch.plain import Plain

_MODULES = {
    "weigh": "weigh",
    "hydrate": "hydrate",
    "heat": "heat",
    "emulsify": "emulsify",
    "form": "form",
    "chill": "chill",
    "coat": "coat",
    "set": "setbath",
    "rinse": "rinse",
    "dry": "dry",
    "cook": "cook",
    "hold": "hold",
    "fat_curve": "fatcurve",
}


def make(context: Context) -> Watcher:
    """Return the watcher of the stage of `context`."""
    if context.stage is None:
        raise ValueError("a stage watcher needs a stage; run-long watchers come from run_long()")
    try:
        module: Any = importlib.import_module(f"logger.watch.{_MODULES[context.stage.kind]}")
    except ImportError:
        return Plain(context)
    maker: Callable[[Context], Watcher] = module.make
    return maker(context)


def run_long(context: Context) -> list[Watcher]:
    """Return the watchers that live as long as the run, besides health."""
    return [DangerZone(context)]

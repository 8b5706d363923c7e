"""Which watcher looks after which kind of stage, and which watchers live as long as the run.

Pure; used by logger.watch.run and course. A new stage kind needs a table in logger.model.sheet and
a line here.
"""

from collections.abc import Callable

from logger.watch import (
    chill,
    coat,
    cook,
    dry,
    emulsify,
    fatcurve,
    form,
    heat,
    hold,
    hydrate,
    rinse,
    setbath,
    weigh,
)
from logger.watch.aftercombining import AfterCombining
from logger.watch.contract import Context, Watcher
from logger.watch.danger import DangerZone
from logger.watch.tares import Tares

Maker = Callable[[Context], Watcher]

_MAKERS: dict[str, Maker] = {
    "weigh": weigh.make,
    "hydrate": hydrate.make,
    "heat": heat.make,
    "emulsify": emulsify.make,
    "form": form.make,
    "chill": chill.make,
    "coat": coat.make,
    "set": setbath.make,
    "rinse": rinse.make,
    "dry": dry.make,
    "cook": cook.make,
    "hold": hold.make,
    "fat_curve": fatcurve.make,
}


def make(context: Context) -> Watcher:
    """Return the watcher of the stage of `context`.

    Raises
    ------
    ValueError
        If the context has no stage.
    """
    if context.stage is None:
        raise ValueError("a stage watcher needs a stage; run-long watchers come from run_long()")
    return _MAKERS[context.stage.kind](context)


def run_long(context: Context) -> list[Watcher]:
    """Return the watchers that live as long as the run, besides health."""
    return [DangerZone(context), AfterCombining(context), Tares(context)]

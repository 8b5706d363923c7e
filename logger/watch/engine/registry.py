"""Which watcher looks after which kind of stage, and which watchers live as long as the run.

Pure; used by logger.watch.engine.run and course. A new stage kind needs a table in
logger.model.sheet and a line here.
"""

from collections.abc import Callable

from logger.watch.engine.contract import Context, Watcher
from logger.watch.sensors.tares import Tares
from logger.watch.stages.chill import watcher as chill
from logger.watch.stages.coat import watcher as coat
from logger.watch.stages.cook import watcher as cook
from logger.watch.stages.core.danger import DangerZone
from logger.watch.stages.dry import watcher as dry
from logger.watch.stages.emulsify import watcher as emulsify
from logger.watch.stages.emulsify.aftercombining import AfterCombining
from logger.watch.stages.fat_curve import watcher as fatcurve
from logger.watch.stages.form import watcher as form
from logger.watch.stages.heat import watcher as heat
from logger.watch.stages.hold import watcher as hold
from logger.watch.stages.hydrate import watcher as hydrate
from logger.watch.stages.rinse import watcher as rinse
from logger.watch.stages.set import watcher as setbath
from logger.watch.stages.weigh import watcher as weigh

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

"""The watcher of each kind of stage, and the watchers that live as long as the run.

Pure; used by logger.watch.engine.run and course. A kind's watcher is found by its place:
``make(context)`` in ``logger/watch/stages/<kind>/watcher.py``. The detectors, which watch the
instruments of the bench all the time, are listed here.
"""

from collections.abc import Callable
from functools import cache

from logger.model.kinds.record.parts import part
from logger.watch.engine.contract import Context, Detector, Watcher
from logger.watch.sensors.tares import Tares
from logger.watch.stages.core.danger import DangerZone
from logger.watch.stages.emulsify.aftercombining import AfterCombining
from logger.watch.stages.emulsify.afterpouring import AfterPouring
from logger.watch.stages.emulsify.bowl import BowlDetector
from logger.watch.stages.set.bath import BathDetector
from logger.watch.stages.weigh.bench import BenchScale

DETECTORS: tuple[type[Detector], ...] = (BathDetector, BowlDetector, BenchScale)
"""What watches an instrument of the bench from the start of the run to its end."""
PLACE = "logger.watch.stages.{kind}.watcher"

Maker = Callable[[Context], Watcher]


@cache
def maker(kind: str) -> Maker:
    """Return what makes the watcher of a kind of stage.

    Raises
    ------
    MissingPartError
        If the kind has no watcher.
    """
    found: Maker = part(kind, "watcher", PLACE).make
    return found


def make(context: Context) -> Watcher:
    """Return the watcher of the stage of `context`.

    Raises
    ------
    ValueError
        If the context has no stage.
    """
    if context.stage is None:
        raise ValueError("a stage watcher needs a stage; run-long watchers come from run_long()")
    return maker(context.stage.kind)(context)


def run_long(context: Context) -> list[Watcher]:
    """Return the watchers that live as long as the run, besides health.

    The watchers of the sheet's stages are loaded now, so that none is missing when its stage
    begins. The detectors are entered into the batch, where stages find them.
    """
    for stage in context.sheet.stage:
        maker(stage.kind)
    for kind in DETECTORS:
        detector = kind(context)
        if detector.wanted():
            context.batch.detectors[kind] = detector
    detectors = context.batch.detectors.values()
    after = AfterPouring(context)
    return [DangerZone(context), AfterCombining(context), Tares(context), *detectors, after]

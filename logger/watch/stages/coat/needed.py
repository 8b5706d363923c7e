"""The dwell a coat will need in the bath that awaits it.

Pure; used by the watcher of coating, before the bath stage begins.
"""

from logger.model.sheet import SetStage
from logger.science.gel.dwell import NeededDwell
from logger.watch.engine.contract import Context, seconds
from logger.watch.stages.set.skin import skin_clock

USUAL_BATH_C = 20.0
"""Bath temperature to reckon with where neither probe nor sheet says one [degC]."""


def needed_for(
    context: Context,
    stage: SetStage,
    coats_mm: list[float],
    coat_mm: float,
    pieces: int,
    bath_c: float | None,
    t_ns: int,
) -> tuple[NeededDwell | None, str]:
    """Return the needed dwell of a coat, or why the bath cannot set it.

    Parameters
    ----------
    context : Context
        Of the stage under way; gives sheet and what was weighed in.
    stage : SetStage
        The bath that comes.
    coats_mm : list of float
        Coats known so far [mm]; the rest of the pieces is taken to be like them.
    coat_mm : float
        The coat asked about [mm].
    pieces : int
        How many will share the bath.
    bath_c : float or None
        Bath temperature now [degC]; None takes the middle of the sheet's band, or 20.
    t_ns : int
        Now.

    Returns
    -------
    tuple
        The needed dwell and a refusal in words; None and an empty text where the sheet does not
        say enough.
    """
    clock = skin_clock(context.sheet, stage, context.batch.weighed_g, context.batch.slabs)
    clock.begin(coats_mm or [coat_mm], pieces)
    if bath_c is None:
        band = stage.bath_c
        ends = [end for end in (band.low, band.high) if end is not None] if band else []
        bath_c = sum(ends) / len(ends) if ends else USUAL_BATH_C
    clock.sample(seconds(t_ns), bath_c, {coat_mm})
    return clock.needed(coat_mm), clock.refused

"""A batch of the smoked beet and barley roll as a timed script of acts and words.

Weigh, soak, warm, combine, shape, firm up, coat, set the skin, rinse, air, cook and keep warm; or,
short, warm, combine and set. Pure and seeded: times wander as a cook's do. ``physics`` acts it out.
"""

from logger.virtual.batch.acts import Script
from logger.virtual.batch.circumstances import Circumstances
from logger.virtual.batch.cook import Cook, bath_is_ready
from logger.virtual.batch.emulsion_acts import combine, soak, warm
from logger.virtual.batch.piece_acts import (
    FRIDGE_C,
    air,
    coat,
    firm,
    heat_through,
    keep,
    rinse,
    shape,
    skin,
)
from logger.virtual.batch.weighing_acts import weigh


def script_of(batch: Circumstances) -> Script:
    """Write the script of a batch.

    Parameters
    ----------
    batch : Circumstances
        What is drawn for it; its seed also draws the times of the acts.

    Returns
    -------
    Script
        Times from the start of the run [s].
    """
    cook = Cook(batch)
    if batch.short:
        if batch.bath_c > FRIDGE_C:
            bath_is_ready(cook)
        for act in (warm, combine, skin):
            act(cook)
    else:
        for act in (
            weigh, soak, warm, combine, shape, firm, coat, skin, rinse, air, heat_through, keep,
        ):  # fmt: skip
            act(cook)
    return cook.finished()

"""A batch of the smoked beet and barley roll as a timed script of acts and words.

The stages are those of the virtual bench's own sheet, the full or the short one; what the cook does
in each is found by its kind: ``act(cook)`` in ``logger/virtual/batch/kinds/<kind>.py``. Pure and
seeded: times wander as a cook's do. ``physics`` acts it out.
"""

from collections.abc import Callable
from functools import cache
from importlib import resources

from logger.model.files import sheet_from_text
from logger.model.kinds.record.parts import part
from logger.model.kinds.registry import Stage
from logger.virtual.batch.acts import Script
from logger.virtual.batch.circumstances import Circumstances
from logger.virtual.batch.cook import Cook, bath_is_ready
from logger.virtual.batch.ware import FRIDGE_C

PLACE = "logger.virtual.batch.kinds.{kind}"


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
    if batch.short and batch.bath_c > FRIDGE_C:
        bath_is_ready(cook)
    for stage in stages_of(batch.short):
        cook.begin(stage)
        act_of(stage.kind)(cook)
    return cook.finished()


def act_of(kind: str) -> Callable[[Cook], None]:
    """Return what the cook does in a kind of stage.

    Raises
    ------
    MissingPartError
        If the virtual bench has no acts for it.
    """
    act: Callable[[Cook], None] = part(kind, "acts of the virtual bench", PLACE).act
    return act


@cache
def stages_of(short: bool) -> tuple[Stage, ...]:
    """Return the stages of the virtual batch, in their order."""
    return tuple(sheet_from_text(plain_sheet(short), "the virtual bench's sheet").stage)


def plain_sheet(short: bool) -> str:
    """Return the text of the virtual bench's sheet, before a batch changes it."""
    name = "roll_short.sheet.toml" if short else "roll.sheet.toml"
    return (resources.files("logger.virtual") / name).read_text(encoding="utf-8")

"""What a stage says of the work beside its targets: text, equipment, speed, pan and oil.

Pure text out of a stage of the sheet.
"""

from collections.abc import Callable

from logger.model.kinds.registry import Stage
from logger.model.written import Band
from logger.words.bands import target_text


def step_words(stage: Stage, write: Callable[[Band], str] = target_text) -> list[str]:
    """Return what a stage says of the work, a sentence or a line for each; empty for nothing.

    Parameters
    ----------
    stage : Stage
        Of the sheet.
    write : callable
        Writes the band of pan or oil.
    """
    found = [stage.text.strip()] if stage.text.strip() else []
    if stage.equipment:
        found.append(f"Equipment: {', '.join(stage.equipment)}")
    if stage.speed:
        found.append(f"Speed: {stage.speed}")
    for what, band in (("Pan", stage.pan_temp_c), ("Oil", stage.oil_temp_c)):
        if band is not None:
            found.append(f"{what}: {write(band)}")
    return found

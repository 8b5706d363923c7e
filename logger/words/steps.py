"""What a stage says of the work beside its targets: text, equipment, speed, pan and oil.

Pure text out of a stage of the sheet.
"""

from logger.model.kinds.registry import Stage
from logger.words.bands import target_text


def step_words(stage: Stage) -> list[str]:
    """Return what a stage says of the work, a sentence or a line for each; empty for nothing."""
    found = [stage.text.strip()] if stage.text.strip() else []
    if stage.equipment:
        found.append(f"Equipment: {', '.join(stage.equipment)}")
    if stage.speed:
        found.append(f"Speed: {stage.speed}")
    for what, band in (("Pan", stage.pan_temp_c), ("Oil", stage.oil_temp_c)):
        if band is not None:
            found.append(f"{what}: {target_text(band)}")
    return found

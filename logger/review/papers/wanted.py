"""What the sheet asks for in a stage, in the words of its file: targets, and what is not measured.

Pure; used by the papers of runs and of sheets. Text, equipment, speed, pan and oil are
logger.words.steps'.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from logger.model.kinds.record.stage import Piece, StageBase
from logger.model.kinds.registry import Stage
from logger.model.written import Band, field_unit
from logger.words.bands import band_on_screen
from logger.words.durations import clock
from logger.words.values import exact_text

_OF_EVERY_STAGE = {*StageBase.model_fields, "kind", "scale_holds", "scale_under"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """One thing that a stage asks for.

    Attributes
    ----------
    key : str
        As the file has it, with spaces.
    text : str
        How much; empty where the key says it all.
    band : Band or None
        The target, where it is one.
    """

    key: str
    text: str
    band: Band | None = None

    @property
    def says(self) -> str:
        """Both: ``"water 44 to 54 °C"``."""
        return f"{self.key} {self.text}".rstrip()


def wanted(stage: Stage) -> Iterator[Wanted]:
    """Give what the sheet sets for a stage, in the order of its kind."""
    for name, info in type(stage).model_fields.items():
        value = getattr(stage, name)
        if name in _OF_EVERY_STAGE or value is None or value is False or value in ("", []):
            continue
        yield Wanted(
            key=str(info.alias or name).replace("_", " "),
            text="" if value is True else _shown(value, name),
            band=value if isinstance(value, Band) else None,
        )


def _shown(value: Any, name: str) -> str:
    if isinstance(value, Band):
        return band_on_screen(value.low, value.high, value.unit)
    if isinstance(value, Piece):
        return piece_text(value)
    if isinstance(value, list):
        return ", ".join(_shown(one, name) for one in value)
    if isinstance(value, float):
        unit = field_unit(name) or ""
        return clock(value) if unit == "s" else exact_text(value, unit)
    return str(value) if name.startswith("ingredient") else str(value).replace("_", " ")


def piece_text(piece: Piece) -> str:
    """Write the shape of a piece: ``"cylinder 26 mm across, 130 mm long"``."""
    across = f"{piece.body} {exact_text(piece.diameter_mm, 'mm')} across"
    if piece.length_mm is None or piece.body == "sphere":
        return across
    way = "thick" if piece.body == "patty" else "long"
    return f"{across}, {exact_text(piece.length_mm, 'mm')} {way}"

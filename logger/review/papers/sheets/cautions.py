"""What can hurt in the work of a sheet: a few words at its stage, the usual caution for the paper.

Pure; a sheet and what its plan cautions in, text out. It warns and defers to local codes; that
food may be eaten is said nowhere.
"""

from collections.abc import Sequence

from logger.model.kinds.registry import Stage, kind_of
from logger.model.sheet import Sheet
from logger.review.plan.kinds.cook import FRYING_CAUTION
from logger.science.calcium.salts import CAUTION as CALCIUM_CAUTION

LOCAL_CODES = (
    "Follow local regulations and licensed practice; discard when in doubt. This paper certifies "
    "nothing."
)
_OIL = "Hot oil: nothing wet or frozen into it"
_CALCIUM = "Calcium chloride: glasses, gloves; salt into water"


def hazards_of(sheet: Sheet, stage: Stage) -> list[str]:
    """Return in a few words each what can hurt in a stage; empty for nothing known."""
    kind = kind_of(stage)
    found = [kind.hazard] if kind.hazard else []
    if stage.oil_temp_c is not None:
        found.append(_OIL)
    if kind.weighs_in and _calcium_chloride(sheet, getattr(stage, "ingredients", None)):
        found.append(_CALCIUM)
    return found


def cautions_of(sheet: Sheet, planned: Sequence[str]) -> list[str]:
    """Return the usual cautions in full, each once, and that local codes come first.

    Parameters
    ----------
    sheet : Sheet
        Whose work it is.
    planned : sequence of str
        Cautions of its plan.
    """
    found = list(planned)
    if any(stage.oil_temp_c is not None for stage in sheet.stage):
        found.append(FRYING_CAUTION)
    if _calcium_chloride(sheet, None):
        found.append(CALCIUM_CAUTION)
    return [*dict.fromkeys(found), LOCAL_CODES]


def _calcium_chloride(sheet: Sheet, names: Sequence[str] | None) -> bool:
    """Whether the salt, or what may stand in for it, is weighed in; of all where none is named."""
    among = [one for one in sheet.ingredient if names is None or one.name in names]
    salts = [one.salt for one in among] + [o.salt for one in among for o in one.alternative]
    return any(salt is not None and salt.startswith("calcium_chloride") for salt in salts)

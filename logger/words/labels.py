"""What a check is called: its label, made from its key and its subject.

Pure text; the only place that names checks. Nothing may match a label: rooms ask by key.
"""

from logger.model.errors import UndeclaredKeyError
from logger.model.kinds.registry import KINDS
from logger.words.digits import exact

LABELS: dict[str, str] = {
    "weigh.mass_g": "mass of {subject}",
    "hydrate.time_s": "time for {subject}",
    "hydrate.lowest_c": "lowest temperature",
    "hydrate.highest_c": "highest temperature",
    "heat.fat_c": "fat temperature",
    "heat.water_c": "water temperature",
    "heat.fat_above_water_k": "fat above water",
    "heat.fat_highest_c": "highest fat temperature (full melting)",
    "heat.mix_predicted_c": "predicted mixing temperature",
    "emulsify.poured_g": "poured mass",
    "emulsify.pour_rate_g_min": "pour rate",
    "emulsify.fat_fraction_percent": "fat fraction by mass",
    "emulsify.emulsion_c": "emulsion temperature",
    "emulsify.above_setting_c": "emulsion temperature (setting point)",
    "emulsify.above_melted_c": "emulsion temperature (full melting)",
    "form.piece_g": "piece mass",
    "form.unweighed_g": "pieces weighed",
    "chill.core_end_c": "core temperature at the end",
    "chill.time_s": "chilling time",
    "chill.cooling_s": "cooling to {number} °C",
    "chill.rule_set": "cooling rule set",
    "coat.mass_g": "coat mass",
    "coat.thickness_mm": "coat thickness",
    "set.dwell_s": "dwell",
    "set.unseen_dwell_s": "dwell of pieces not seen",
    "set.skin_percent": "skin set through",
    "set.bath_c": "bath temperature",
    "set.calcium_wanted_percent": "calcium needed by all coats",
    "set.calcium_left_percent": "calcium left",
    "rinse.dwell_s": "rinsing time",
    "dry.lost_percent": "mass lost",
    "dry.time_s": "drying time",
    "cook.core_highest_c": "highest core temperature",
    "cook.at_core_s": "time at {number} °C or more",
    "cook.lethality_log": "lethality credited",
    "hold.core_c": "core temperature while held",
    "hold.core_by_rule_c": "core temperature by the rule set",
    "hold.time_s": "holding time",
    "hold.time_by_rule_s": "time by the rule set",
    "hold.rule_set": "holding rule set",
    "work.time_s": "working time",
    "fat_curve.onset_c": "setting onset",
    "fat_curve.plateau_c": "plateau ({subject})",
    "run.danger_zone_s": "possible time between {low} and {high} °C",
    "run.rule_sets": "rule sets",
    "run.gap_percent": "share of the run without readings",
    "ingredient.kind": "{subject} kind",
    "ingredient.lot": "{subject} lot",
    "ingredient.unweighed": "{subject} unweighed",
    "piece.defect": "pieces with {subject}",
    "other.unnamed": "{subject}",
}
"""By key; ``{subject}`` as it is, ``{number}`` of one that is a number, ``{low}`` and
``{high}`` of a range."""

WITHOUT_SUBJECT: dict[str, str] = {
    "hydrate.time_s": "time for the mix",
    "fat_curve.plateau_c": "plateau",
}
"""Of those that need not say of what."""

_FIGURES = {f"figure.{f.name}": f.label for kind in KINDS for f in kind.figures}
_TO = ".."


def check_label(key: str, subject: str = "") -> str:
    """Return what a check is called: ``"mass of oat fibre"``.

    Parameters
    ----------
    key : str
        Of the check, as its kind declares it.
    subject : str
        What of it: an ingredient, a limit, a range such as ``"5..57"``.

    Raises
    ------
    UndeclaredKeyError
        If no check has that key.
    """
    text = LABELS.get(key) or _FIGURES.get(key)
    if text is None:
        raise UndeclaredKeyError(key, "one that has a label")
    if not subject:
        text = WITHOUT_SUBJECT.get(key, text)
    low, _, high = subject.partition(_TO)
    return text.format(
        subject=subject,
        number=_number(subject),
        low=_number(low),
        high=_number(high),
    )


def _number(subject: str) -> str:
    """Write a subject that is a number; another is returned as it is."""
    try:
        return exact(float(subject))
    except ValueError:
        return subject


def range_subject(low: float, high: float) -> str:
    """Return the subject of a check that is about a range [any unit]."""
    return f"{low:g}{_TO}{high:g}"

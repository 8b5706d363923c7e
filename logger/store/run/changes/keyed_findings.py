"""To version 2: findings of a run's results get ``key`` and ``subject`` from their labels.

Pure: JSON values in, JSON values out. The table holds the labels of version 1 as they were; it is
never changed when a label or a key of today is.
"""

import re
from typing import Any

UNNAMED = "other.unnamed"
"""Key of a label that is not in the table; the label is its subject."""

_PLAIN = {
    "lowest temperature": "hydrate.lowest_c",
    "highest temperature": "hydrate.highest_c",
    "fat temperature": "heat.fat_c",
    "water temperature": "heat.water_c",
    "fat above water": "heat.fat_above_water_k",
    "fat all melted": "heat.fat_highest_c",
    "predicted mixing temperature": "heat.mix_predicted_c",
    "poured mass": "emulsify.poured_g",
    "pour rate": "emulsify.pour_rate_g_min",
    "fat fraction by mass": "emulsify.fat_fraction_percent",
    "emulsion temperature": "emulsify.emulsion_c",
    "emulsion above the setting limit of the fat": "emulsify.above_setting_c",
    "emulsion above all melted": "emulsify.above_melted_c",
    "piece mass": "form.piece_g",
    "pieces weighed": "form.unweighed_g",
    "core temperature at the end": "chill.core_end_c",
    "chilling time": "chill.time_s",
    "cooling rule set": "chill.rule_set",
    "coat mass": "coat.mass_g",
    "coat thickness": "coat.thickness_mm",
    "dwell": "set.dwell_s",
    "dwell of pieces not seen": "set.unseen_dwell_s",
    "skin set through": "set.skin_percent",
    "bath temperature": "set.bath_c",
    "calcium wanted by all coats": "set.calcium_wanted_percent",
    "calcium left": "set.calcium_left_percent",
    "rinse dwell": "rinse.dwell_s",
    "mass lost": "dry.lost_percent",
    "drying time": "dry.time_s",
    "highest core temperature": "cook.core_highest_c",
    "lethality credited": "cook.lethality_log",
    "core temperature while held": "hold.core_c",
    "core temperature by the rule set": "hold.core_by_rule_c",
    "holding time": "hold.time_s",
    "time by the rule set": "hold.time_by_rule_s",
    "holding rule set": "hold.rule_set",
    "setting onset": "fat_curve.onset_c",
    "plateau": "fat_curve.plateau_c",
    "time for the mix": "hydrate.time_s",
    "rule sets": "run.rule_sets",
}
"""Labels that stand for themselves; looked up before the patterns."""

_PATTERNS = (
    (re.compile(r"mass of (?P<subject>.+)", re.DOTALL), "weigh.mass_g"),
    (re.compile(r"time for (?P<subject>.+)", re.DOTALL), "hydrate.time_s"),
    (re.compile(r"cooling to (?P<subject>\S+) °C"), "chill.cooling_s"),
    (re.compile(r"time at (?P<subject>\S+) °C or more"), "cook.at_core_s"),
    (re.compile(r"plateau \((?P<subject>.+)\)"), "fat_curve.plateau_c"),
    (re.compile(r"time between (?P<low>\S+) and (?P<high>\S+) °C"), "run.danger_zone_s"),
)
"""Labels with a subject; a range has both of its ends, written ``low..high``."""


def keyed_findings(results: Any) -> Any:
    """Return results as version 2 has them.

    Parameters
    ----------
    results : dict
        JSON value of a run's results. Findings that have a key are left as they are; values that
        are no results are returned as they are, for whoever reads them to refuse.
    """
    if not isinstance(results, dict) or not isinstance(results.get("findings"), list):
        return results
    return results | {"findings": [_keyed(finding) for finding in results["findings"]]}


def _keyed(finding: Any) -> Any:
    if not isinstance(finding, dict) or not isinstance(finding.get("check"), str):
        return finding
    if "key" in finding:
        return finding
    key, subject = key_of(finding["check"])
    return {"key": key, "subject": subject} | finding


def key_of(label: str) -> tuple[str, str]:
    """Return key and subject of a label of version 1."""
    plain = _PLAIN.get(label)
    if plain is not None:
        return plain, ""
    for pattern, key in _PATTERNS:
        found = pattern.fullmatch(label)
        if found is not None:
            parts = found.groupdict()
            return key, parts.get("subject") or f"{parts['low']}..{parts['high']}"
    return UNNAMED, label

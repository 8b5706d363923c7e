"""Every check there is, by its key: those of the kinds of stages and those of a run as a whole.

Pure look-ups. What a kind is judged by is said by its record in ``logger.model.kinds``; what a
person reads is made by ``logger.words.labels``.
"""

from logger.model.errors import UndeclaredKeyError
from logger.model.kinds.record.kind import Check
from logger.model.kinds.registry import KINDS

RUN_CHECKS: tuple[Check, ...] = (
    Check(key="run.danger_zone_s", unit="s", subject="range [degC]", sensors=("core",)),
    Check(key="run.rule_sets", unit="s"),
)
"""What a run is judged by over all of its stages."""

BETWEEN_RUNS: tuple[Check, ...] = (
    Check(key="ingredient.kind", unit="", subject="group of ingredients"),
    Check(key="ingredient.lot", unit="", subject="group of ingredients"),
    Check(key="ingredient.unweighed", unit="", subject="group of ingredients"),
    Check(key="run.gap_percent", unit="%"),
    Check(key="piece.defect", unit="", subject="defect"),
)
"""What an explanation may name as unlike the good runs or other pieces, beside the figures of the
kinds."""

UNNAMED = Check(key="other.unnamed", unit="", subject="label")
"""A check of an older file that this version no longer has; its subject is its label."""

CHECKS: dict[str, Check] = {
    check.key: check
    for check in (*(c for kind in KINDS for c in kind.checks), *RUN_CHECKS, *BETWEEN_RUNS, UNNAMED)
}
"""By key, in the order of the work."""

_FIGURES = {
    figure_key: Check(key=figure_key, unit=figure.unit)
    for kind in KINDS
    for figure in kind.figures
    for figure_key in (f"figure.{figure.name}",)
}


def check_of(key: str) -> Check:
    """Return the record of a check, or of a figure that an explanation names.

    Raises
    ------
    UndeclaredKeyError
        If there is none by that key.
    """
    found = CHECKS.get(key) or _FIGURES.get(key)
    if found is None:
        raise UndeclaredKeyError(key, "one that a kind declares in its checks")
    return found


def figure_key(name: str) -> str:
    """Return the key by which an explanation names a figure of a run."""
    return f"figure.{name}" if f"figure.{name}" in _FIGURES else f"run.{name}"

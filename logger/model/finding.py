"""What the engine found: verdicts with their evidence, and the tables of a run.

These are the records of ``bainlog show --json``. Times are seconds since run start there, because a
person and a spreadsheet read them.
"""

from dataclasses import dataclass, field
from typing import Any, Literal

Verdict = Literal["met", "not met", "undecided", "not measured"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One comparison with a target.

    Attributes
    ----------
    check : str
        What was compared, in the sheet's words: ``"fat temperature"``.
    stage : str
        Stage id.
    verdict : str
        ``undecided``: the uncertainty straddles the limit; ``not measured``: there was no data.
    value, low, high : float or None
        In `unit`.
    expanded_uncertainty : float or None
        k = 2 or the budget's own factor, in `unit`.
    from_s, to_s : float or None
        Window of the evidence on the run's axis [s].
    evidence : str
        A sentence with the numbers.
    rule : str
        The decision rule in force.
    channel : str or None
        Where on the trace the evidence lies.
    """

    check: str
    stage: str
    verdict: Verdict
    value: float | None = None
    unit: str = ""
    expanded_uncertainty: float | None = None
    low: float | None = None
    high: float | None = None
    from_s: float | None = None
    to_s: float | None = None
    evidence: str = ""
    piece: int | None = None
    channel: str | None = None
    rule: str = ""
    source: str = "sheet"


@dataclass(slots=True, kw_only=True)
class Results:
    """All that the engine worked out of a run; lists of JSON-ready dicts except findings.

    The keys of each dict are those of DEVELOPERS.md, "What `show --json` prints".
    """

    stages: list[dict[str, Any]] = field(default_factory=list)
    pours: list[dict[str, Any]] = field(default_factory=list)
    immersions: list[dict[str, Any]] = field(default_factory=list)
    pieces: list[dict[str, Any]] = field(default_factory=list)
    settings: list[dict[str, Any]] = field(default_factory=list)
    forecasts: list[dict[str, Any]] = field(default_factory=list)
    weighings: list[dict[str, Any]] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    alarms: list[dict[str, Any]] = field(default_factory=list)
    gaps: list[dict[str, Any]] = field(default_factory=list)
    notes: list[dict[str, Any]] = field(default_factory=list)
    sensors: list[dict[str, Any]] = field(default_factory=list)
    """How the check of each channel stood on the day of the run."""
    derived: list[dict[str, Any]] = field(default_factory=list)
    """Series worked out when the run ended, beside the readings and never instead of them; the
    layout of ``block`` is that of ``store.beside``."""
    values: dict[str, Any] = field(default_factory=dict)
    """Named single results with the unit in the name: ``"mixing_temp_c"``..."""

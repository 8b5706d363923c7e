"""What the engine found: verdicts with their evidence, and the tables of a run.

These are the records of ``bainlog show --json``. Times are seconds since run start there, because a
person and a spreadsheet read them.
"""

from dataclasses import dataclass, field
from typing import Any, Literal

from logger.model.history import ActRow
from logger.model.rows import (
    AlarmRow,
    CostRow,
    DerivedRow,
    ForecastRow,
    GapRow,
    ImmersionRow,
    JudgedRow,
    NoteRow,
    OwnFatRow,
    PieceRow,
    PourRow,
    SensorRow,
    SettingRow,
    StageRow,
    TareRow,
    WeighingRow,
)

Verdict = Literal["met", "not met", "undecided", "not measured"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One comparison with a target.

    Attributes
    ----------
    key : str
        What was compared, as the kind of the stage declares it: ``"heat.fat_c"``.
    subject : str
        What of it, where there are several: an ingredient, a limit.
    check : str
        The same for a person, as ``logger.words.labels`` wrote it: ``"fat temperature"``. Nothing
        asks for it.
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
    assumed : bool
        An uncertainty behind it was assumed: "don't know" was answered for a sensor.
    """

    key: str
    subject: str = ""
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
    assumed: bool = False

    @property
    def identity(self) -> tuple[str, str, str, int | None]:
        """What makes it another finding: key, subject, stage and piece."""
        return self.key, self.subject, self.stage, self.piece


@dataclass(slots=True, kw_only=True)
class Results:
    """All that the engine worked out of a run: the tables of ``bainlog show --json``."""

    stages: list[StageRow] = field(default_factory=list)
    pours: list[PourRow] = field(default_factory=list)
    immersions: list[ImmersionRow] = field(default_factory=list)
    pieces: list[PieceRow] = field(default_factory=list)
    settings: list[SettingRow] = field(default_factory=list)
    forecasts: list[ForecastRow] = field(default_factory=list)
    weighings: list[WeighingRow] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    alarms: list[AlarmRow] = field(default_factory=list)
    gaps: list[GapRow] = field(default_factory=list)
    notes: list[NoteRow] = field(default_factory=list)
    acts: list[ActRow] = field(default_factory=list)
    """What the operator did that stands, in the order it was done."""
    sensors: list[SensorRow] = field(default_factory=list)
    """How the check of each channel stood on the day of the run."""
    derived: list[DerivedRow] = field(default_factory=list)
    """Series worked out when the run ended, beside the readings and never instead of them."""
    judged: list[JudgedRow] = field(default_factory=list, compare=False)
    """How many readings of each channel all this was worked out from; a replay from fewer of them
    overrules nothing. Empty in runs of before this was kept."""
    tares: list[TareRow] = field(default_factory=list)
    """Tares that were accepted, in time order; JSON has them in ``values``."""
    cost: CostRow | None = None
    """What was weighed in costs; JSON has it in ``values``."""
    own_fat: OwnFatRow | None = None
    """A fat that was measured; JSON has it in ``values``."""
    values: dict[str, Any] = field(default_factory=dict)
    """Named single results with the unit in the name: ``"mixing_temp_c"``..."""

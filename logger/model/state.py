"""What the screen shows of a run at this moment: the engine's and the recorder's state.

The screen draws this and computes nothing of its own. Plain dataclasses that turn into JSON.
"""

from dataclasses import asdict, dataclass, field
from typing import Any, Literal

from logger.model.rows import (
    ActRow,
    AlarmView,
    BoardRow,
    ForecastView,
    GoOnRow,
    PieceRow,
    PortRow,
    RecorderRow,
    RunAbout,
    StageRow,
    TareRow,
)

Tone = Literal["calm", "do", "wait", "warn", "stop"]
"""calm: nothing to do; do: act now; wait: time is running; warn: something is drifting; stop: act
at once. Shown by word and icon too, never by colour alone."""


@dataclass(slots=True, kw_only=True)
class Number:
    """One of the two or three numbers that matter in a stage."""

    label: str
    value: float | None
    unit: str
    """degC, K, g, s, %, g/min, mm...; the screen converts degC and g for display."""
    u_expanded: float | None = None
    low: float | None = None
    high: float | None = None
    verdict: str = "not measured"
    text: str = ""
    """Shown instead of the number where there is none, for example ``can't tell yet``."""
    assumed: bool = False
    """The uncertainty of a sensor of the stage was assumed."""


@dataclass(slots=True, kw_only=True)
class Proposal:
    """Something the bench saw and a person may take or refuse with one tap."""

    id: str
    text: str
    what: str
    """next_stage | piece | tare_offset | outcome..."""
    t_s: float
    taken: bool = False
    """True when it was carried out already and a tap takes it back."""
    data: dict[str, Any] = field(default_factory=dict)


@dataclass(slots=True, kw_only=True)
class StageView:
    """What a stage watcher says of its stage."""

    say: str = ""
    """One sentence of what to do now."""
    tone: Tone = "calm"
    more: list[str] = field(default_factory=list)
    """Further sentences: what is missing, the reason, what would do."""
    numbers: list[Number] = field(default_factory=list)
    forecasts: list[ForecastView] = field(default_factory=list)
    board: list[BoardRow] = field(default_factory=list)
    """Bath board: those in the bath by what is due next, then those out."""
    pieces: list[PieceRow] = field(default_factory=list)
    cautions: list[str] = field(default_factory=list)
    left_s: float | None = None
    """Time left of the stage as planned or predicted, for the ribbon."""


@dataclass(slots=True, kw_only=True)
class ChannelView:
    """A channel at this moment."""

    id: str
    role: str
    label: str
    unit: str
    instrument: str = ""
    value: float | None = None
    u_expanded: float | None = None
    t_s: float | None = None
    """Time of the last reading on the run's axis."""
    status: str = "waiting"
    """waiting | live | stale | stuck | open | fault | over | under | untrusted | out"""
    low: float | None = None
    high: float | None = None
    """Target band in the present stage, if there is one."""
    rate_hz: float | None = None
    says: str = ""
    checked: str = ""
    """How its check stands: ``checked 410 days ago; check it in ice water``; empty if unknown."""
    check: str = "unknown"
    """good | overdue | never | unknown"""


@dataclass(slots=True, kw_only=True)
class State:
    """Everything at this moment."""

    phase: Literal["idle", "recording", "ended"] = "idle"
    t_s: float = 0.0
    run: RunAbout = field(default_factory=RunAbout)
    stage: str | None = None
    stages: list[StageRow] = field(default_factory=list)
    """Ribbon: the sheet's stages in order, each with its last start and end."""
    view: StageView = field(default_factory=StageView)
    channels: list[ChannelView] = field(default_factory=list)
    ports: list[PortRow] = field(default_factory=list)
    alarms: list[AlarmView] = field(default_factory=list)
    """Most urgent first."""
    proposals: list[Proposal] = field(default_factory=list)
    acts: list[ActRow] = field(default_factory=list)
    """What the operator did that stands, in the order it was done."""
    working_out: bool = False
    """Whether the run is being worked out again after a correction."""
    go_on: GoOnRow | None = None
    """While nothing is recorded: the run that can go on."""
    tares: list[TareRow] = field(default_factory=list)
    """Tares that were accepted, in time order; values of the channels have them counted in."""
    recorder: RecorderRow = field(default_factory=RecorderRow)

    def as_json(self) -> dict[str, Any]:
        """Return plain JSON values."""
        return asdict(self)

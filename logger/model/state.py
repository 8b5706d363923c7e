"""What the screen shows of a run at this moment: the engine's and the recorder's state.

The screen draws this and computes nothing of its own. Plain dataclasses that turn into JSON.
"""

from dataclasses import asdict, dataclass, field
from typing import Any, Literal

from logger.model.history import ActRow
from logger.model.rows import GoOnRow, Left, PieceRow, StageRow, TareRow

Tone = Literal["calm", "do", "wait", "warn", "stop"]
"""calm: nothing to do; do: act now; wait: time is running; warn: something is drifting; stop: act
at once. Shown by word and icon too, never by colour alone."""


@dataclass(slots=True, kw_only=True)
class ForecastView:
    """A forecast on the screen.

    Attributes
    ----------
    limit_c : float
        The limit [degC].
    cone : list
        Points of time [s], low, likely and high temperature [degC].
    """

    channel: str
    limit_c: float
    left_s: Left
    says: str = ""
    cone: list[tuple[float, float, float, float]] = field(default_factory=list)


@dataclass(slots=True, kw_only=True)
class BoardRow:
    """One immersion on the bath board; times and dwells [s], share of the skin [1]."""

    immersion: int
    piece: int | None = None
    in_s: float | None = None
    out_s: float | None = None
    dwell_s: float | None = None
    low_s: float | None = None
    high_s: float | None = None
    set_fraction: float | None = None
    left_s: tuple[float, float] | None = None
    due_in_s: float | None = None
    """Until it should come out; negative once it is late."""
    says: str = ""
    status: str = "in"
    """in | due | overdue | out | unsure"""
    candidates: list[float] = field(default_factory=list)
    out_between_s: tuple[float, float] | None = None
    """Where a gap hides when it came out: the interval."""
    dwell_between_s: tuple[float, float] | None = None
    """The dwell where a gap hides one of its ends."""
    verdict: str = "not measured"
    """Of the dwell, once the piece is out: key of a finding's verdict."""

    @property
    def inside(self) -> bool:
        """Whether the piece is in the bath."""
        return self.status in ("in", "due", "overdue")


AlarmState = Literal[
    "normal",
    "active unacknowledged",
    "active acknowledged",
    "returned unacknowledged",
    "latched",
    "shelved",
    "suppressed",
    "out of service",
]
"""States of ANSI/ISA-18.2-2016 and IEC 62682:2014."""


@dataclass(slots=True, kw_only=True)
class AlarmView:
    """An alarm on the screen, in a state of ISA-18.2; times [s]."""

    id: str
    text: str
    state: str
    since_s: float
    shelved_until_s: float | None = None
    latched: bool = False
    sounds: bool = False
    priority: str = "high"
    stage: str | None = None
    channel: str | None = None


@dataclass(slots=True, kw_only=True)
class RunAbout:
    """Which run it is."""

    id: str | None = None
    sheet: str = ""
    revision: int = 0
    rule: str = ""
    bench: str = ""


@dataclass(slots=True, kw_only=True)
class PortRow:
    """How the port of an instrument stands."""

    instrument: str
    port: str
    status: str = ""
    says: str = ""
    bad_share: float = 0.0
    """Share of bad lines [1]."""
    lines: int = 0
    readings: int = 0
    bad: int = 0
    dropped: int = 0
    untrusted: bool = False


@dataclass(slots=True, kw_only=True)
class RecorderRow:
    """How the recorder stands; what waits in memory [s]."""

    disk: str = "ok"
    ring_s: float = 0.0
    dropped: int = 0
    clock_speed: float = 1.0


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
    left_s: float | None = None
    """Until it reaches its band, where that can be told: of a time exactly, else at its rate."""
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

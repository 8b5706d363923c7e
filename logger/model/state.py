"""What the screen shows of a run at this moment: the engine's and the recorder's state.

The screen draws this and computes nothing of its own. Plain dataclasses that turn into JSON.
"""

from dataclasses import asdict, dataclass, field
from typing import Any, Literal

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
    forecasts: list[dict[str, Any]] = field(default_factory=list)
    """{"channel", "limit_c", "left_s": {"early","likely","late"}, "says",
    "cone": [[t_s, low_c, likely_c, high_c], ...]}"""
    board: list[dict[str, Any]] = field(default_factory=list)
    """Bath board rows: {"piece", "in_s", "out_s", "dwell_s", "low_s", "high_s", "set_fraction",
    "left_s": [low, high], "says", "status": "in|due|overdue|out|unsure", "candidates"}"""
    pieces: list[dict[str, Any]] = field(default_factory=list)
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
    """waiting | live | stale | stuck | open | fault | over | under | untrusted"""
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
    run: dict[str, Any] = field(default_factory=dict)
    stage: str | None = None
    stages: list[dict[str, Any]] = field(default_factory=list)
    """Ribbon: {"id", "kind", "title", "planned_s", "start_s", "end_s"}"""
    view: StageView = field(default_factory=StageView)
    channels: list[ChannelView] = field(default_factory=list)
    ports: list[dict[str, Any]] = field(default_factory=list)
    """{"instrument", "port", "status", "says", "bad_share", "lines", "dropped"}"""
    alarms: list[dict[str, Any]] = field(default_factory=list)
    """{"id", "text", "state", "since_s", "shelved_until_s", "latched", "sounds", "stage",
    "channel"}; states are those of ISA-18.2"""
    proposals: list[Proposal] = field(default_factory=list)
    recorder: dict[str, Any] = field(default_factory=dict)
    """{"disk": "ok|full", "clock_speed", "written_s", "ring_s", "version"}"""

    def as_json(self) -> dict[str, Any]:
        """Return plain JSON values."""
        return asdict(self)

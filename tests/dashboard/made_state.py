"""A state, a client and a run file that are not there, for tests of drawing."""

import copy
import datetime
from collections.abc import Iterator
from contextlib import contextmanager
from types import SimpleNamespace
from typing import Any

import numpy as np

from logger.control.client import GoneError, RefusedError
from logger.model.bench import Bench
from logger.model.event import Event
from logger.model.rows import Left, StageRow
from logger.model.state import (
    AlarmView,
    BoardRow,
    ChannelView,
    ForecastView,
    Number,
    Proposal,
    RecorderRow,
    RunAbout,
    StageView,
    State,
)

CHANNELS = [
    ("fat", "Fat", "degC"),
    ("water", "Water phase", "degC"),
    ("emulsion", "Emulsion", "degC"),
    ("bath", "Bath", "degC"),
    ("bowl_scale", "Bowl scale", "g"),
    ("bath_scale", "Bath scale", "g"),
]


def channel_view(role: str, label: str, unit: str, **changes: Any) -> ChannelView:
    made = ChannelView(
        id=role, role=role, label=label, unit=unit, value=46.1 if unit == "degC" else 512.4,
        u_expanded=0.6 if unit == "degC" else 0.2, t_s=99.9, status="live", rate_hz=4.0,
    )  # fmt: skip
    for name, value in changes.items():
        setattr(made, name, value)
    return made


def heating() -> State:
    channels = [channel_view(*c) for c in CHANNELS]
    channels[0].low, channels[0].high = 44.0, 58.0
    channels[1].low, channels[1].high = 42.0, 56.0
    return State(
        phase="recording",
        t_s=100.0,
        run=RunAbout(id="20261125-0913-a3f2", sheet="Smoked beet and barley roll", revision=4),
        stage="warm",
        stages=[
            StageRow(
                id="weigh", kind="weigh", title="Weigh in", planned_s=300.0, start_s=0.0, end_s=40.0
            ),
            StageRow(id="warm", kind="heat", title="Warm both", planned_s=600.0, start_s=40.0),
            StageRow(id="skin", kind="set", title="Set the skin", planned_s=900.0),
        ],
        view=StageView(
            say="Water phase 3 K too cool: keep warming it.",
            tone="wait",
            more=["The fat stays melted for another 9 to 14 min."],
            numbers=[
                Number(label="Fat", value=46.1, unit="degC", u_expanded=0.6, low=44.0, high=58.0,
                       verdict="met"),
                Number(label="Fat sets in", value=None, unit="s", text="can't tell yet"),
            ],
            forecasts=[
                ForecastView(
                    channel="fat",
                    limit_c=34.0,
                    says="9 to 14 min",
                    left_s=Left(early=540.0, likely=660.0, late=840.0),
                    cone=[(100.0, 46.0, 46.1, 46.2), (400.0, 37.0, 39.0, 41.0)],
                )
            ],
            cautions=["Hot fat burns: keep water out."],
        ),
        channels=channels,
        recorder=RecorderRow(disk="ok", clock_speed=1.0),
    )  # fmt: skip


def bathing() -> State:
    state = heating()
    state.stage, state.t_s = "skin", 1000.0
    state.stages[1].end_s, state.stages[2].start_s = 700.0, 700.0
    state.view = StageView(
        say="Take piece 1 out of the bath.",
        tone="do",
        numbers=[Number(label="Bath", value=18.2, unit="degC", u_expanded=0.6, low=14.0, high=24.0,
                        verdict="met")],
        board=[
            BoardRow(
                immersion=1, piece=1, in_s=600.0, dwell_s=400.0, low_s=360.0, high_s=720.0,
                set_fraction=1.0, left_s=(0.0, 320.0), status="due",
            ),
            BoardRow(
                immersion=2, piece=2, in_s=800.0, dwell_s=200.0, low_s=360.0, high_s=720.0,
                set_fraction=0.6, left_s=(160.0, 520.0), status="in",
            ),
            BoardRow(
                immersion=3, piece=None, in_s=500.0, out_s=950.0, dwell_s=450.0, low_s=360.0,
                high_s=720.0, says="piece 3 or 4", status="unsure", candidates=[450.0, 380.0],
            ),
        ],
        cautions=["Calcium chloride irritates: wear gloves and keep it off the eyes."],
    )  # fmt: skip
    state.alarms = [
        AlarmView(
            id="skin.bath.high", text="The bath is warmer than 24 °C: add ice.",
            state="active unacknowledged", since_s=940.0, sounds=True, stage="skin",
            channel="bath",
        ),
        AlarmView(
            id="fat.low", text="Fat fell below 44 °C.", state="shelved", since_s=700.0,
            shelved_until_s=1200.0, stage="warm", channel="fat",
        ),
    ]  # fmt: skip
    state.proposals = [Proposal(id="p1", text="Piece 3 came out at 15:50.", what="piece", t_s=950)]
    return state


class FakeClient:
    """Answers like the control line."""

    def __init__(self, state: State | None) -> None:
        self.now = state
        self.sent: list[tuple[str, dict[str, Any]]] = []
        self.refuses = ""

    def state(self) -> State:
        if self.now is None:
            raise GoneError("no recorder answers")
        return copy.deepcopy(self.now)

    def send(self, kind: str, **data: Any) -> dict[str, Any]:
        if self.now is None:
            raise GoneError("no recorder answers")
        if self.refuses:
            raise RefusedError(self.refuses)
        self.sent.append((kind, data))
        return {"seq": len(self.sent), "t_s": 1.0, "kind": kind}


class FakeRun:
    """A run file's view over made samples, four a second; grows up to `until_s`."""

    def __init__(self, until_s: float = 100.0) -> None:
        self.until_s = until_s
        self.closed = False
        self.happened: list[Event] = []
        self.missing: tuple[float, float] | None = None

    def bench(self) -> Bench:
        return Bench.model_validate(
            {
                "instrument": [{"id": "all", "port": "none", "shape": "none"}],
                "channel": [
                    {"id": role, "instrument": "all", "field": role, "role": role}
                    for role, _, _ in CHANNELS
                ],
            }
        )

    header = SimpleNamespace(
        started_date=datetime.date(2026, 11, 25), unit_of={r: u for r, _, u in CHANNELS}.get
    )

    def readings(self, channel: str, from_ns: Any = None, to_ns: Any = None) -> Any:
        t_ns = np.arange(0, int(self.until_s * 1e9) + 1, 250_000_000, dtype=np.int64)
        if self.missing is not None:
            away = (t_ns > self.missing[0] * 1e9) & (t_ns < self.missing[1] * 1e9)
            t_ns = t_ns[~away]
        t_ns = t_ns[t_ns >= (from_ns or 0)]
        t_s = t_ns / 1e9
        place = [role for role, _, _ in CHANNELS].index(channel)
        if channel.endswith("scale"):
            value = 400.0 + 80.0 * (t_s > 50.0) + 0.1 * np.sin(t_s)
        else:
            value = 20.0 + 26.0 * (1.0 - np.exp(-t_s / (40.0 + 30.0 * place)))
        flags = np.zeros(t_ns.size, dtype=np.int32)
        return SimpleNamespace(t_ns=t_ns, value=value, flags=flags, cold_junction=None)

    def results(self) -> None:
        """A run that is being recorded has none."""

    @contextmanager
    def together(self) -> Iterator[Any]:
        yield self

    def events(self, after_seq: int = 0) -> list[Event]:
        return [event for event in self.happened if event.seq > after_seq]

    def close(self) -> None:
        self.closed = True

"""A tile and the last point of its trace take the same value: corrected, tared, plain."""

import dataclasses
import datetime

import numpy as np
import pytest

from dashboard.live.feed import Feed
from dashboard.runs.window import window
from logger.correct.channel import Corrector
from logger.model.bench import Bench
from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.model.reading import Flag, Reading
from logger.store.run.records import ChannelRecord, RunHeader, StoredReading, WriteBatch
from logger.store.run.runfile import RunView, RunWriter
from logger.watch.engine.engine import SECOND_NS, Engine

RUN = "20261125-0913-a3f2"
SHEET = """
[sheet]
name = "Smoked beet and barley roll"
[[stage]]
id = "skin"
kind = "set"
pieces = 2
piece_masses = ["81 g", "95 g"]
"""
BENCH = Bench.model_validate(
    {
        "instrument": [{"id": "all", "port": "none", "shape": "none"}],
        "channel": [
            {
                "id": "fat", "instrument": "all", "field": "t1", "role": "fat",
                "correction": {"offset": "-0.7 K", "checked": "2026-11-02", "by": "ice point"},
            },
            {"id": "bath", "instrument": "all", "field": "t2", "role": "bath"},
            {"id": "bath_scale", "instrument": "all", "field": "g1", "role": "bath_scale"},
        ],
    }
)  # fmt: skip
UNITS = {"fat": "degC", "bath": "degC", "bath_scale": "g"}
STARTED_NS = 1_795_597_980 * 10**9
TARE_S, ANSWER_S, END_S = 100.0, 105.0, 130.0


def sent(until_s: float) -> list[Reading]:
    """What the instruments send; the bath scale is tared, the bath's probe is broken at the end."""
    found = []
    for n in range(1, round(until_s * 4)):
        t_s = n / 4
        t_ns = round(t_s * SECOND_NS)
        found.append(Reading("fat", t_ns, 46.0 + 0.01 * n, 0.1))
        late = t_s > END_S - 1.0
        found.append(
            Reading("bath", t_ns, 1372.0 if late else 18.0 + 0.002 * n, 0.1,
                    Flag.OUT_OF_RANGE if late else Flag(0))
        )  # fmt: skip
        load_g = 5000.0 - (5000.0 if t_s >= TARE_S else 0.0) + 0.1 * (n % 3)
        found.append(Reading("bath_scale", t_ns, round(load_g, 1), 0.1))
    return found


class Live:
    """An engine and a run file that take the same readings, as the recorder has them do."""

    def __init__(self, folder) -> None:
        header = RunHeader(
            run_id=RUN,
            sheet_json=sheet_from_text(SHEET, "s").model_dump_json(by_alias=True),
            sheet_text=SHEET,
            bench_json=BENCH.model_dump_json(by_alias=True),
            bench_text="",
            started_utc_ns=STARTED_NS,
            channels=tuple(ChannelRecord(c, "all", c, c, unit) for c, unit in UNITS.items()),
        )
        self.path = folder / f"{RUN}.run"
        self.file = RunWriter.create(self.path, header)
        self.correctors = {c.id: Corrector(c, datetime.date(2026, 11, 25)) for c in BENCH.channel}
        self.engine = Engine(sheet_from_text(SHEET, "s"), BENCH, correctors=self.correctors)
        self.feed = Feed(lambda run_id: RunView.open(self.path))

    def take(self, items: list[Reading | Event], up_to_s: float) -> None:
        readings = [i for i in items if isinstance(i, Reading)]
        self.file.write(
            WriteBatch(readings=[StoredReading(r.channel, r.t_ns, r.value, r.flags)
                                 for r in readings])
        )  # fmt: skip
        self.engine.feed([self._corrected(i) for i in items], round(up_to_s * SECOND_NS))

    def _corrected(self, item: Reading | Event) -> Reading | Event:
        if isinstance(item, Event):
            return item
        value, u = self.correctors[item.channel].value(item.value, UNITS[item.channel])
        return item._replace(value=value, u=u)

    def state(self, t_s: float):
        found = self.engine.state(round(t_s * SECOND_NS))
        found.run.id = RUN
        return found

    def drawn(self, state) -> dict[str, float]:
        """The last point of each trace that has a value."""
        kept = self.feed.follow(RUN, list(UNITS), state.tares)
        return {channel: float(samples.between(-1).value[-1]) for channel, samples in kept.items()}


def said_by(kind: str, t_s: float, **data: object) -> Event:
    return Event(t_ns=round(t_s * SECOND_NS), kind=kind, source="operator", data=data)


@pytest.fixture
def live(tmp_path):
    made = Live(tmp_path)
    yield made
    made.file.close()


def shown(state) -> dict[str, float | None]:
    return {c.id: c.value for c in state.channels}


def test_a_tile_and_the_last_point_of_its_trace_are_one_value(live):
    begin = [said_by("run_start", 0.0), said_by("stage", 0.0, stage="skin")]
    readings = sent(END_S)
    early = [r for r in readings if r.t_ns < ANSWER_S * SECOND_NS]
    live.take([*begin, *early], ANSWER_S)
    before = live.state(ANSWER_S)
    assert live.drawn(before) == pytest.approx(shown(before))
    assert shown(before)["fat"] == pytest.approx(46.0 + 0.01 * 419 - 0.7)  # the correction
    (proposal,) = [p for p in before.proposals if p.what == "tare_offset"]

    accept = said_by("accept", ANSWER_S, proposal=proposal.id)
    middle_s = END_S - 2.0
    middle = [r for r in readings if ANSWER_S * SECOND_NS <= r.t_ns < middle_s * SECOND_NS]
    live.take([accept, *middle], middle_s)
    tared = live.state(middle_s)
    assert [row.channel for row in tared.tares] == ["bath_scale"]
    assert shown(tared)["bath_scale"] == pytest.approx(5000.0, abs=0.5)
    assert live.drawn(tared) == pytest.approx(shown(tared))

    live.take([r for r in readings if r.t_ns >= middle_s * SECOND_NS], END_S)
    broken = live.state(END_S)
    assert shown(broken)["bath"] is None
    assert np.isnan(live.drawn(broken)["bath"])


def test_a_tare_that_is_taken_back_leaves_the_trace_too(live):
    begin = [said_by("run_start", 0.0), said_by("stage", 0.0, stage="skin")]
    readings = sent(END_S - 2.0)
    live.take([*begin, *(r for r in readings if r.t_ns < ANSWER_S * SECOND_NS)], ANSWER_S)
    (proposal,) = [p for p in live.state(ANSWER_S).proposals if p.what == "tare_offset"]
    live.take([said_by("accept", ANSWER_S, proposal=proposal.id)], ANSWER_S)
    live.take([r for r in readings if r.t_ns >= ANSWER_S * SECOND_NS], END_S - 2.0)
    tared = live.state(END_S - 2.0)
    assert live.drawn(tared)["bath_scale"] == pytest.approx(5000.0, abs=0.5)
    live.take([said_by("undo", END_S - 1.9)], END_S - 1.9)
    undone = live.state(END_S - 1.9)
    assert undone.tares == []
    assert live.drawn(undone)["bath_scale"] == pytest.approx(shown(undone)["bath_scale"])
    assert shown(undone)["bath_scale"] < 1.0


def test_the_trace_of_a_run_that_is_over_ends_where_its_tile_did(live):
    begin = [said_by("run_start", 0.0), said_by("stage", 0.0, stage="skin")]
    readings = sent(END_S - 2.0)
    live.take([*begin, *(r for r in readings if r.t_ns < ANSWER_S * SECOND_NS)], ANSWER_S)
    (proposal,) = [p for p in live.state(ANSWER_S).proposals if p.what == "tare_offset"]
    accept = said_by("accept", ANSWER_S, proposal=proposal.id)
    live.take([accept, *(r for r in readings if r.t_ns >= ANSWER_S * SECOND_NS)], END_S - 2.0)
    tiles = shown(live.state(END_S - 2.0))
    results = live.engine.finish(round((END_S - 2.0) * SECOND_NS))
    live.file.finish(dataclasses.replace(results), STARTED_NS + round(END_S * SECOND_NS))
    with RunView.open(live.path) as view:
        ends = {c: float(window(view, c, None, None).points.value[-1]) for c in UNITS}
    assert ends == pytest.approx(tiles)

"""An accepted tare is counted in from then on: what a reading means, not what was stored."""

import numpy as np
import pytest

from logger.correct.tares import counted_in_g
from logger.model.bench import bench_of_roles
from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.model.reading import Reading
from logger.model.rows import TareRow
from logger.science.fats.fatfile import builtin_fats
from logger.watch.engine.engine import SECOND_NS, Engine

SHEET = """
[sheet]
name = "Bath only"
[[stage]]
id = "in"
kind = "weigh"
[[stage]]
id = "skin"
kind = "set"
pieces = 2
piece_masses = ["81 g", "95 g"]
"""


def engine():
    bench = bench_of_roles(["bath_scale", "bench_scale"])
    return Engine(sheet_from_text(SHEET, "s"), bench, correctors={}, fats=builtin_fats())


def said_by(kind, t_s, **data):
    return Event(t_ns=round(t_s * SECOND_NS), kind=kind, source="operator", data=data)


def stream(until_s=200, tare_s=100.0, in_s=40.0, out_s=150.0):
    """A bath of 5 kg; one piece from `in_s` to `out_s`; the scale is tared in between."""
    rng = np.random.default_rng(7)
    items = [said_by("run_start", 0), said_by("stage", 0.0, stage="skin")]
    for n in range(1, until_s * 10):
        t_s = n / 10
        load_g = 5000.0 + 81.0 * (in_s <= t_s < out_s)
        shown_g = load_g - (5081.0 if t_s >= tare_s else 0.0) + rng.normal(0, 0.05)
        items.append(Reading("bath_scale", round(t_s * SECOND_NS), round(shown_g, 1), 0.1))
        items.append(Reading("bench_scale", round(t_s * SECOND_NS), 0.0, 0.1))
    return sorted(items, key=lambda i: i.t_ns)


def offered(engine, t_s):
    return [p for p in engine.state(round(t_s * SECOND_NS)).proposals if p.what == "tare_offset"]


def view_g(engine, t_s):
    state = engine.state(round(t_s * SECOND_NS))
    return next(c for c in state.channels if c.id == "bath_scale")


def with_answer(answer, answer_s=105.0):
    """The stream with the operator's answer in it, found out by a first engine."""
    items = stream()
    first = engine()
    first.feed([i for i in items if i.t_ns <= answer_s * SECOND_NS], round(answer_s * SECOND_NS))
    (proposal,) = offered(first, answer_s)
    assert "went from 5081.0 g to" in proposal.text
    return sorted(
        [*items, said_by(answer, answer_s, proposal=proposal.id)], key=lambda i: i.t_ns
    ), proposal


def test_an_accepted_tare_is_counted_in_from_then_on():
    items, proposal = with_answer("accept")
    batch = engine()
    said = batch.feed(items, 200 * SECOND_NS)
    (told,) = [e for e in said if e.kind == "tare_counted"]
    assert told.data["total_g"] == pytest.approx(5081.0, abs=0.3)
    shown = view_g(batch, 200)
    assert shown.value == pytest.approx(5000.0, abs=0.5)
    assert "of a tare added back" in shown.says
    assert batch.results().tares == [
        TareRow(channel="bath_scale", from_s=105.0, offset_g=proposal.data["offset_g"])
    ]


def test_neither_the_tare_nor_its_offset_is_a_piece():
    items, _ = with_answer("accept")
    batch = engine()
    batch.feed(items, 200 * SECOND_NS)
    (row,) = batch.finish(200 * SECOND_NS).immersions
    assert row.in_s == pytest.approx(40.0, abs=0.6)
    assert row.out_s == pytest.approx(150.0, abs=0.6)


@pytest.mark.parametrize(("back_g", "takes_s", "asked"), [(5130.0, 1.0, 0), (5081.0, 60.0, 1)])
def test_a_vessel_that_is_back_at_once_was_lifted_and_not_tared(back_g, takes_s, asked):
    """It is back with 49 g more; what is poured in after a tare, though as much, takes a minute."""
    batch, items = engine(), stream(until_s=105)
    for n in range(1050, 2000):
        shown_g = back_g * min(1.0, (n / 10 - 105.0) / takes_s)
        items.append(Reading("bath_scale", n * SECOND_NS // 10, round(shown_g, 1), 0.1))
    batch.feed([i for i in items if i.t_ns < 106 * SECOND_NS], 106 * SECOND_NS)
    assert len(offered(batch, 106)) == 1
    batch.feed([i for i in items if i.t_ns >= 106 * SECOND_NS], 199 * SECOND_NS)
    assert len(offered(batch, 199)) == asked


def test_a_declined_tare_changes_nothing():
    items, _ = with_answer("decline")
    batch = engine()
    batch.feed(items, 200 * SECOND_NS)
    assert view_g(batch, 200).value == pytest.approx(-81.0, abs=0.5)
    assert batch.results().tares == []
    assert offered(batch, 200) == []


def test_live_in_pieces_and_replay_at_once_say_the_same():
    items, _ = with_answer("accept")
    at_once, live = engine(), engine()
    said = at_once.feed(items, 200 * SECOND_NS)
    said_live = []
    for place in range(0, len(items), 7):
        part = items[place : place + 7]
        said_live += live.feed(part, part[-1].t_ns)
    said_live += live.feed([], 200 * SECOND_NS)
    assert said_live == said
    assert repr(live.finish(200 * SECOND_NS)) == repr(at_once.finish(200 * SECOND_NS))


def test_taking_the_acceptance_back_takes_the_offset_back():
    items, _ = with_answer("accept")
    undo = said_by("undo", 120.0)
    batch = engine()
    batch.feed(sorted([*items, undo], key=lambda i: i.t_ns), 200 * SECOND_NS)
    assert view_g(batch, 200).value == pytest.approx(-81.0, abs=0.5)
    assert batch.results().tares == []


def test_where_the_tare_key_is_how_one_works_nothing_is_offered():
    items = [said_by("stage", 0.0, stage="in") if getattr(i, "kind", "") == "stage" else i
             for i in stream()]  # fmt: skip
    batch = engine()
    batch.feed([i for i in items if i.t_ns <= 105 * SECOND_NS], 105 * SECOND_NS)
    assert offered(batch, 105) == []


def test_each_accepted_tare_counts_for_the_readings_after_it():
    rows = [
        TareRow(channel="bath_scale", from_s=2.0, offset_g=100.0),
        TareRow(channel="bath_scale", from_s=4.0, offset_g=150.0),
    ]
    t_ns = np.arange(6) * SECOND_NS
    added = counted_in_g(rows, "bath_scale", t_ns)
    assert added.tolist() == [0.0, 0.0, 0.0, 100.0, 100.0, 150.0]
    assert counted_in_g(rows, "fat", t_ns).tolist() == [0.0] * 6

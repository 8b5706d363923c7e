"""The engine: same stream, same answer; ticks, what watchers get and say, what cannot be done."""

import dataclasses
import itertools
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.model.event import Event
from logger.model.reading import Flag
from logger.watch.engine import registry as kinds
from logger.watch.engine.engine import Engine
from tests.watch.recording import BENCH, Recording, S, at, engine_of, operator, sheet_ending_by


def told(engine, t_s):
    """All that can be seen of an engine, NaN compared as text."""
    return repr((dataclasses.asdict(engine.results()), engine.state(round(t_s * S)).as_json()))


def stream_of(seed, seconds=90):
    """A run with gaps, untrusted values, stages, marks, undo, alarms and proposals."""
    rng = random.Random(seed)
    items = [operator("run_start", 0.0, "Roll")]
    for step in range(1, seconds * 4):
        t_s = step / 4 + rng.choice((0.0, 0.01))
        for channel in ("fat", "water", "bath_scale"):
            if rng.random() < 0.05 or (channel == "water" and 100 < step < 140):
                continue
            flags = rng.choice((0,) * 30 + (Flag.UNTRUSTED, Flag.LATE, Flag.OUT_OF_RANGE))
            value = None if rng.random() < 0.02 else round(rng.uniform(58, 61), 1)
            items.append(at(t_s, value, channel, flags))
        if rng.random() < 0.08:
            kind = rng.choice(
                ("next", "stage", "mark", "undo", "note", "ack", "shelve", "accept", "decline",
                 "set_value", "reset_latch", "foot_undo")
            )  # fmt: skip
            stage = rng.choice("abcx")
            data = {
                "stage": {"stage": stage},
                "ack": {"alarm": f"{stage}.hot"},
                "reset_latch": {"alarm": f"{stage}.hot"},
                "shelve": {"alarm": "water.stale", "for_s": rng.choice((5.0, 20.0, 0.0))},
                "accept": {"proposal": f"end.{stage}.{rng.randint(1, 4)}"},
                "decline": {"proposal": f"end.{stage}.{rng.randint(1, 4)}"},
                "set_value": {"name": "loss_g", "value": rng.random()},
            }.get(kind, {})
            items.append(operator(kind, t_s, f"{kind} {step}", **data))
    return sorted(items, key=lambda i: i.t_ns)


@settings(max_examples=15, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    who=st.sampled_from(("operator", "bench", "sheet")),
    cuts=st.lists(st.integers(0, 1_100), max_size=30),
)
def test_any_cutting_of_the_stream_gives_the_same_events_findings_and_state(seed, who, cuts):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(kinds, "make", Recording)
        sheet, bench, stream = sheet_ending_by(who), BENCH, stream_of(seed)
        end_s = stream[-1].t_ns / S
        whole = Engine(sheet, bench, correctors={})
        said_whole = whole.feed(stream, stream[-1].t_ns)
        pieces = Engine(sheet, bench, correctors={})
        said_pieces = []
        edges = [0, *sorted(c for c in cuts if c < len(stream)), len(stream)]
        for first, last in itertools.pairwise(edges):
            piece = stream[first:last]
            up_to_ns = piece[-1].t_ns if piece else stream[first].t_ns if first else 0
            up_to_ns = min(up_to_ns, stream[min(last, len(stream) - 1)].t_ns)
            said_pieces += pieces.feed(piece, up_to_ns)
        assert said_pieces == said_whole
        assert told(pieces, end_s) == told(whole, end_s)
        assert repr(pieces.finish(stream[-1].t_ns + S)) == repr(whole.finish(stream[-1].t_ns + S))
        assert pieces.said == whole.said


def test_one_item_at_a_time_is_the_same_as_all_at_once(recording):
    stream = stream_of(3)
    whole, single = engine_of(sheet_ending_by("sheet")), engine_of(sheet_ending_by("sheet"))
    said_whole = whole.feed(stream, stream[-1].t_ns)
    said = [e for item in stream for e in single.feed([item], item.t_ns)]
    assert said == said_whole
    assert told(single, 90) == told(whole, 90)


def test_a_tick_comes_before_the_items_of_its_second(recording):
    engine = engine_of(sheet_ending_by("operator"))
    engine.feed([operator("next", 0.0), at(0.9), at(1.0), at(2.5)], 2_600_000_000)
    [log] = engine.finish(3 * S).values["logs"]
    assert [(k, t) for k, t, _ in log if k in ("reading", "tick")] == [
        ("reading", 900_000_000),
        ("tick", 1 * S),
        ("reading", 1 * S),
        ("tick", 2 * S),
        ("reading", 2_500_000_000),
        ("tick", 3 * S),
    ]


def test_what_may_not_be_judged_reaches_the_watchers_without_a_value(recording):
    engine = engine_of(sheet_ending_by("operator"))
    engine.feed(
        [
            operator("next", 0.0),
            at(0.1, 50.0, flags=Flag.UNTRUSTED),
            at(0.2, 51.0, flags=Flag.OUT_OF_RANGE),
            at(0.3, 52.0, flags=Flag.LATE),
            at(0.4, 53.0),
        ],
        S,
    )
    [log] = engine.finish(S).values["logs"]
    assert [v for k, _, v in log if k == "reading"] == [None, None, 53.0]


def test_a_typed_value_is_kept_for_the_watchers(recording):
    engine = engine_of(sheet_ending_by("operator"))
    said = engine.feed(
        [operator("set_value", 1, name="room_c", value=21), operator("set_value", 2, name="x")],
        2 * S,
    )
    assert engine._run.scene.batch.by_hand == {"room_c": 21.0}
    assert said[-1].kind == "not_done"


def test_an_event_of_the_engine_in_the_stream_is_worked_out_again_instead(recording):
    engine = engine_of(sheet_ending_by("operator"))
    stored = Event(t_ns=S, kind="stage_start", source="engine", stage="b")
    assert engine.feed([stored, operator("next", 2)], 3 * S)[0].stage == "a"


def test_what_one_watcher_says_reaches_the_others_but_not_itself(recording):
    engine = engine_of(sheet_ending_by("operator"))
    said = engine.feed([operator("next", 0), *(at(0.1 * k, 70.0) for k in range(1, 7))], S)
    crossed = [e for e in said if e.kind == "crossed"]
    assert [(e.text, e.stage) for e in crossed] == [("hot 5", "a")]
    [log] = engine.finish(S).values["logs"]
    assert "crossed" not in [k for k, _, _ in log]


def test_alarms_are_events_and_acts_on_them_are_refused_in_words(recording):
    engine = engine_of(sheet_ending_by("operator"))
    said = engine.feed([operator("next", 0), *(at(0.1 * k, 70.0) for k in range(1, 15))], 5 * S)
    [alarm] = [e for e in said if e.kind == "alarm" and e.stage == "a"]
    assert alarm.data["alarm"] == "a.hot"
    assert alarm.data["state"] == "active unacknowledged"
    assert alarm.data["sounds"] is True
    said = engine.feed([operator("ack", 6, alarm="a.hot"), operator("ack", 7, alarm="zz")], 8 * S)
    acted = [(e.kind, e.data.get("state")) for e in said if e.data.get("alarm") != "fat.stale"]
    assert acted == [("alarm", "active acknowledged"), ("not_done", None)]


def test_the_state_shows_bands_of_the_stage_beside_the_channels(roll_sheet, table_bench):
    engine = Engine(roll_sheet, table_bench, correctors={})
    engine.feed([operator("next", 0), at(1.0, 46.1), at(1.5, 46.2)], 2 * S)
    fat = engine.state(2 * S).channels[0]
    assert (fat.id, fat.status, fat.value, fat.low, fat.high) == ("fat", "live", 46.2, 44.0, 58.0)
    assert fat.u_expanded == 0.6

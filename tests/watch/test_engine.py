"""The engine: same stream, same answer; stages, typed values, what cannot be done."""

import dataclasses
import itertools
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.model.bench import bench_of_roles
from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.model.reading import Flag, Reading
from logger.watch import kinds
from logger.watch.contract import Condition
from logger.watch.engine import SECOND_NS, Engine
from logger.watch.plain import Plain

S = SECOND_NS


class Recording(Plain):
    """A watcher that remembers what it was fed, and wants to end after ten readings above 60."""

    def __init__(self, context):
        super().__init__(context)
        self.log = []
        self.hot = 0

    def reading(self, reading):
        self.log.append(("reading", reading.t_ns, reading.value))
        if reading.value is not None and reading.value > 60.0:
            self.hot += 1
            if self.hot % 5 == 0:
                self.context.out.emit(reading.t_ns, "crossed", f"hot {self.hot}", channel="fat")

    def event(self, event):
        self.log.append((event.kind, event.t_ns, event.text))

    def tick(self, t_ns):
        super().tick(t_ns)
        self.log.append(("tick", t_ns, None))

    def end(self, t_ns):
        self.context.out.results.values.setdefault("logs", []).append(list(self.log))

    def conditions(self):
        hot = self.hot > 7
        return [
            Condition(
                id=f"{self.context.stage_id}.hot",
                text="too hot",
                active=hot,
                cleared=not hot,
                on_delay_s=2.0,
                latches=True,
            )
        ]

    def finished(self):
        return "hot enough" if self.hot >= 10 else None


@pytest.fixture
def recording(monkeypatch):
    """Every stage is watched by `Recording`."""
    monkeypatch.setattr(kinds, "make", Recording)


def sheet_ending_by(who):
    stages = "".join(
        f'[[stage]]\nid = "{name}"\nkind = "rinse"\nends = "{who}"\n' for name in ("a", "b", "c")
    )
    return sheet_from_text(f'[sheet]\nname = "Roll"\n{stages}', "roll.sheet.toml")


def operator(kind, t_s, text="", **data):
    return Event(t_ns=round(t_s * S), kind=kind, source="operator", text=text, data=data)


def at(t_s, value=50.0, channel="fat", flags=0):
    return Reading(channel, round(t_s * S), value, 0.3, flags)


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


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    who=st.sampled_from(("operator", "bench", "sheet")),
    cuts=st.lists(st.integers(0, 1_100), max_size=30),
)
def test_any_cutting_of_the_stream_gives_the_same_events_findings_and_state(seed, who, cuts):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(kinds, "make", Recording)
        sheet, bench, stream = sheet_ending_by(who), _bench(), stream_of(seed)
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


def _bench():
    return bench_of_roles(["fat", "water", "bath_scale"])


def engine_of(sheet):
    return Engine(sheet, _bench(), correctors={})


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


def test_next_begins_the_first_stage_then_the_following_then_ends_the_last(recording):
    engine = engine_of(sheet_ending_by("operator"))
    said = engine.feed([operator("next", t) for t in (1, 2, 3, 4, 5)], 6 * S)
    assert [(e.kind, e.stage) for e in said if e.kind.startswith("stage")] == [
        ("stage_start", "a"),
        ("stage_end", "a"),
        ("stage_start", "b"),
        ("stage_end", "b"),
        ("stage_start", "c"),
        ("stage_end", "c"),
    ]
    assert said[-1].kind == "not_done"
    assert "no further stage" in said[-1].text
    assert [(r["id"], r["start_s"], r["end_s"]) for r in engine.results().stages] == [
        ("a", 1.0, 2.0),
        ("b", 2.0, 3.0),
        ("c", 3.0, 4.0),
    ]


def test_a_stage_can_be_chosen_by_its_id_and_next_goes_on_from_there(recording):
    engine = engine_of(sheet_ending_by("operator"))
    engine.feed([operator("stage", 1, stage="b"), operator("next", 2)], 3 * S)
    assert engine.stage_id == "c"


def test_a_stage_the_sheet_does_not_have_is_refused_with_those_it_has(recording):
    engine = engine_of(sheet_ending_by("operator"))
    said = engine.feed([operator("stage", 1, stage="frying")], 2 * S)
    assert "it has a, b, c" in said[-1].text
    assert engine.stage_id is None


def test_a_sheet_of_one_stage_needs_no_stage_event(recording):
    sheet = sheet_from_text('[sheet]\nname = "R"\n[[stage]]\nid = "a"\nkind = "rinse"\n', "r")
    engine = engine_of(sheet)
    engine.feed([at(5.0), at(6.0)], 6 * S)
    results = engine.finish(7 * S)
    assert [(r["id"], r["start_s"], r["end_s"]) for r in results.stages] == [("a", 5.0, 7.0)]


def test_a_stage_begun_by_hand_after_all_replaces_the_implied_one(recording):
    sheet = sheet_from_text('[sheet]\nname = "R"\n[[stage]]\nid = "a"\nkind = "rinse"\n', "r")
    engine = engine_of(sheet)
    engine.feed([at(5.0), operator("next", 6.0), at(7.0)], 8 * S)
    results = engine.finish(9 * S)
    assert [(r["start_s"], r["end_s"]) for r in results.stages] == [(6.0, 9.0)]
    assert len(results.values["logs"]) == 1


def test_a_started_run_waits_for_its_first_stage(recording):
    sheet = sheet_from_text('[sheet]\nname = "R"\n[[stage]]\nid = "a"\nkind = "rinse"\n', "r")
    engine = engine_of(sheet)
    engine.feed([operator("run_start", 0.0), at(1.0)], 2 * S)
    assert engine.stage_id is None
    assert engine.state(2 * S).view.say == "Next: rinse"


def test_the_end_of_the_run_ends_the_stage_and_nothing_is_taken_after_it(recording):
    engine = engine_of(sheet_ending_by("operator"))
    said = engine.feed([operator("next", 0), at(1), operator("run_end", 2), at(3)], 4 * S)
    said += engine.feed([operator("next", 5)], 5 * S)
    assert [e.kind for e in said] == ["stage_start", "stage_end", "not_done"]
    state = engine.state(9 * S)
    assert (state.phase, state.t_s) == ("ended", 2.0)


def test_outcome_and_notes_count_also_after_the_end(recording):
    engine = engine_of(sheet_ending_by("operator"))
    engine.feed(
        [
            operator("next", 0),
            operator("note", 1, "smells right"),
            operator("run_end", 2),
            operator("note", 3, "split overnight"),
            operator("outcome", 4, outcome="rejected", defects=["greasy"]),
        ],
        5 * S,
    )
    results = engine.results()
    assert [(n["t_s"], n["text"], n["stage"]) for n in results.notes] == [
        (1.0, "smells right", "a"),
        (3.0, "split overnight", None),
    ]
    assert results.values["outcome"] == "rejected"
    assert results.values["defects"] == ["greasy"]


def test_what_the_bench_sees_is_proposed_and_accepting_goes_on(recording):
    engine = engine_of(sheet_ending_by("bench"))
    said = engine.feed([operator("next", 0), *(at(0.1 * k, 70.0) for k in range(1, 15))], 2 * S)
    [proposal] = engine.state(2 * S).proposals
    assert (proposal.what, proposal.text, proposal.taken) == ("next_stage", "hot enough", False)
    assert [e.text for e in said if e.kind == "proposal"] == ["hot enough"]
    assert engine.stage_id == "a"
    engine.feed([operator("accept", 3, proposal=proposal.id)], 3 * S)
    assert engine.stage_id == "b"


def test_a_declined_proposal_is_not_made_again_in_this_stage(recording):
    engine = engine_of(sheet_ending_by("bench"))
    engine.feed([operator("next", 0), *(at(0.1 * k, 70.0) for k in range(1, 15))], 2 * S)
    [proposal] = engine.state(2 * S).proposals
    engine.feed([operator("decline", 3, proposal=proposal.id)], 30 * S)
    assert engine.state(30 * S).proposals == []
    assert engine.stage_id == "a"


def test_a_stage_of_the_operator_is_never_ended_or_proposed_to_end(recording):
    engine = engine_of(sheet_ending_by("operator"))
    engine.feed([operator("next", 0), *(at(0.1 * k, 70.0) for k in range(1, 15))], 60 * S)
    assert engine.stage_id == "a"
    assert engine.state(60 * S).proposals == []


def test_a_stage_ended_by_the_sheet_goes_on_when_that_is_declined(recording):
    """One tap takes it back; what came since belongs to the first stage again."""
    engine = engine_of(sheet_ending_by("sheet"))
    hot = [at(0.1 * k, 70.0) for k in range(1, 15)]
    engine.feed([operator("next", 0), *hot], 2 * S)
    [proposal] = engine.state(2 * S).proposals
    assert proposal.taken
    assert engine.stage_id == "b"
    said = engine.feed([at(2.5, 50.0), operator("decline", 5, proposal=proposal.id)], 20 * S)
    assert "taken_back" in [e.kind for e in said]
    assert engine.stage_id == "a"
    assert [(r["id"], r["end_s"]) for r in engine.results().stages] == [("a", None)]
    [log] = engine.finish(21 * S).values["logs"]
    assert len([k for k, _, _ in log if k == "reading"]) == 15


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

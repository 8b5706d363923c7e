"""Every kind of stage on a made-up stream: cutting does not matter, undo restores all."""

import dataclasses
import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.model.bench import bench_of_roles
from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.model.reading import Flag, Reading
from logger.science.fats.fatfile import builtin_fats
from logger.watch.engine.engine import SECOND_NS, Engine
from tests.watch.ingredients import FAT_AND_JUICE

S = SECOND_NS
STAGES = """
[[ingredient]]
name = "alginate"
phase = "coat"
substance = "alginate"
mass = "12 g"
[[ingredient]]
name = "coat water"
phase = "coat"
substance = "water"
mass = "588 g"
[[ingredient]]
name = "calcium chloride"
phase = "bath"
salt = "calcium_chloride_dihydrate"
mass = "28 g"
[[ingredient]]
name = "bath water"
phase = "bath"
substance = "water"
mass = "972 g"
[[stage]]
id = "in"
kind = "weigh"
[[stage]]
id = "swell"
kind = "hydrate"
ingredient = "alginate"
time = { low = "10 s" }
ends = "sheet"
[[stage]]
id = "warm"
kind = "heat"
fat = { low = "44 degC", high = "58 degC" }
water = { low = "42 degC", high = "56 degC" }
ends = "bench"
[[stage]]
id = "combine"
kind = "emulsify"
rate = { low = "60 g/min", high = "140 g/min" }
emulsion = { low = "30 degC" }
[[stage]]
id = "roll"
kind = "form"
pieces = 3
piece = { body = "cylinder", diameter = "26 mm", length = "115 mm" }
[[stage]]
id = "dip"
kind = "coat"
pieces = 3
piece = { body = "cylinder", diameter = "26 mm", length = "115 mm" }
pickup = { low = "3 g", high = "8 g" }
[[stage]]
id = "skin"
kind = "set"
bath = { low = "14 degC", high = "24 degC" }
dwell = { low = "20 s", high = "60 s" }
pieces = 3
piece = { body = "cylinder", diameter = "26 mm", length = "115 mm" }
piece_masses = ["81 g", "82 g", "83 g"]
[[stage]]
id = "wash"
kind = "rinse"
dwell = { low = "5 s" }
[[stage]]
id = "rack"
kind = "dry"
loss = { high = "2 %" }
[[stage]]
id = "pan"
kind = "cook"
core = { low = "63 degC" }
hold = "15 s"
lethality = "fsis_1999_beef_6_5_log"
[[stage]]
id = "fridge"
kind = "chill"
core = { high = "5 degC" }
rule_set = "food_code_cooked"
[[stage]]
id = "pass"
kind = "hold"
rule_set = "food_code_cold"
[[stage]]
id = "learn"
kind = "fat_curve"
fat = "cocoa_butter"
"""
SHEET = '[sheet]\nname = "Smoked beet and barley roll"\n' + FAT_AND_JUICE + STAGES
ROLES = ["fat", "water", "emulsion", "bath", "core", "bowl_scale", "bath_scale", "bench_scale"]
LEVELS = {"fat": 52.0, "water": 48.0, "emulsion": 40.0, "bath": 18.0, "core": 60.0}


def stream_of(seed, stage_s=40):
    """Go through all stages; temperatures wander, scales step, the operator marks and undoes."""
    rng = random.Random(seed)
    items = [Event(t_ns=0, kind="run_start", source="operator")]
    loads = dict.fromkeys(("bowl_scale", "bath_scale", "bench_scale"), 400.0)
    phase = {role: rng.uniform(0, 6) for role in ROLES}
    for tenth in range(1, 13 * stage_s * 5):
        t_ns = tenth * S // 5
        for role in ROLES:
            if rng.random() < 0.01:
                continue
            if role in loads:
                if rng.random() < 0.02:
                    loads[role] = max(0.0, loads[role] + rng.choice((-83, -40, 12, 28, 81, 180)))
                value = round(loads[role] + rng.gauss(0, 0.03), 1)
            else:
                wander = 8.0 * math.sin(tenth / 400 + phase[role]) - tenth / 300
                value = round(LEVELS[role] + wander + rng.gauss(0, 0.05), 2)
            flags = rng.choice((0,) * 200 + (Flag.OUT_OF_RANGE, Flag.UNTRUSTED))
            items.append(Reading(role, t_ns, value, 0.2, int(flags)))
        if tenth % (stage_s * 5) == 1:
            items.append(Event(t_ns=t_ns, kind="next", source="operator"))
        elif rng.random() < 0.01:
            kind = rng.choice(("mark", "mark", "undo", "note", "piece_in", "piece_out"))
            data = {"piece": rng.randint(1, 3)} if kind.startswith("piece") else {}
            items.append(Event(t_ns=t_ns, kind=kind, source="operator", data=data))
    return items


def engine():
    return Engine(
        sheet_from_text(SHEET, "roll.sheet.toml"),
        bench_of_roles(ROLES),
        correctors={},
        fats=builtin_fats(),
    )


def told(engine, t_ns):
    return repr((dataclasses.asdict(engine.results()), engine.state(t_ns).as_json()))


@pytest.mark.slow
@settings(max_examples=4, deadline=None)
@given(seed=st.integers(0, 1000), cuts=st.lists(st.integers(0, 20_000), max_size=12))
def test_any_cutting_of_a_whole_batch_gives_the_same_events_findings_and_state(seed, cuts):
    stream = stream_of(seed)
    end_ns = stream[-1].t_ns
    whole, pieces = engine(), engine()
    said_whole = whole.feed(stream, end_ns)
    said_pieces = []
    edges = [0, *sorted(c for c in cuts if 0 < c < len(stream)), len(stream)]
    for place, first in enumerate(edges[:-1]):
        last = edges[place + 1]
        if last > first:
            said_pieces += pieces.feed(stream[first:last], stream[last - 1].t_ns)
            pieces.state(stream[last - 1].t_ns)
    assert said_pieces == said_whole
    assert told(pieces, end_ns) == told(whole, end_ns)
    assert repr(pieces.finish(end_ns + S)) == repr(whole.finish(end_ns + S))


def test_every_kind_of_stage_runs_shows_a_view_and_leaves_its_findings():
    batch = engine()
    stages = set()
    for place, item in enumerate(stream_of(5)):
        batch.feed([item], item.t_ns)
        if batch.stage_id is not None:
            stages.add(batch.stage_id)
        if place % 50 == 0 or isinstance(item, Event):
            state = batch.state(item.t_ns)
            state.as_json()
            assert state.view.say
    assert len(stages) == 13
    found = batch.finish(13 * 40 * S).findings
    assert {f.stage for f in found} >= {"in", "swell", "warm", "combine", "pan", "fridge", "pass"}
    for finding in found:
        assert finding.evidence
        assert finding.verdict in ("met", "not met", "undecided", "not measured")
        if finding.value is None:
            assert finding.verdict in ("not measured", "not met", "undecided")


def test_a_batch_of_silence_meets_nothing():
    """No readings at all: no check may pass but those of time alone."""
    batch = engine()
    items = [Event(t_ns=0, kind="run_start", source="operator")]
    items += [Event(t_ns=(1 + 20 * k) * S, kind="next", source="operator") for k in range(14)]
    batch.feed(items, 300 * S)
    timed = ("time for alginate", "holding time", "rinse", "dwell")
    for finding in batch.finish(300 * S).findings:
        if finding.verdict == "met":
            assert any(word in finding.check for word in timed), finding


def test_undo_in_any_stage_restores_what_was_before():
    stream = [i for i in stream_of(8) if isinstance(i, Reading) or i.kind == "next"]
    for count in range(2_000, len(stream), 3_500):
        kept = stream[:count]
        t_ns = kept[-1].t_ns
        plain, undone = engine(), engine()
        plain.feed(kept, t_ns)
        undone.feed(kept, t_ns)
        acts = [Event(t_ns=t_ns, kind=k, source="operator") for k in ("mark", "undo")]
        undone.feed(acts, t_ns)
        assert told(undone, t_ns) == told(plain, t_ns)

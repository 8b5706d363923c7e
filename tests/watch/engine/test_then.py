"""A stage that begins at an earlier time: as if it had been begun then."""

import dataclasses

import pytest

from logger.watch.engine.engine import Engine
from logger.watch.engine.merge import order
from tests.watch.engine.test_undo import S, operator, readings


@pytest.fixture
def made(roll_sheet, table_bench):
    return lambda: Engine(roll_sheet, table_bench, correctors={})


def told(engine, t_s):
    """All that can be seen of an engine, but for when its acts were said."""
    results, state = engine.results(), engine.state(round(t_s * S))
    acts = [dataclasses.replace(act, at_ns=0, was_s=None, said_later=False) for act in results.acts]
    return repr(
        (
            dataclasses.asdict(dataclasses.replace(results, acts=acts)),
            dataclasses.replace(state, acts=acts).as_json(),
        )
    )


@pytest.mark.parametrize("then_s", [12, 25.5, 250, 431])
def test_a_stage_begun_at_an_earlier_time_is_as_if_it_had_been_begun_then(made, then_s):
    """Before, between and after the states that are kept every 200 s."""
    late, punctual = made(), made()
    until_s = then_s + 120
    stream = readings(0, until_s + 20)
    late.feed([operator("next", 0), *[i for i in stream if i.t_ns < until_s * S]], until_s * S)
    act = operator("stage", until_s, stage="cold", at_ns=round(then_s * S))
    rest = [i for i in stream if i.t_ns >= until_s * S]
    said = late.feed([act, *rest], (until_s + 20) * S)
    assert "dated_back" in [e.kind for e in said]
    begins = next(e for e in said if e.kind == "stage_start")
    assert begins.t_ns == then_s * S
    items = [operator("next", 0), *stream, operator("stage", then_s, stage="cold")]
    punctual.feed(sorted(items, key=order), (until_s + 20) * S)
    assert told(late, until_s + 20) == told(punctual, until_s + 20)


def test_later_acts_stand_and_the_beginning_itself_can_be_taken_back(made):
    engine = made()
    engine.feed([operator("next", 1), *readings(1, 30), operator("next", 30)], 40 * S)
    engine.feed([operator("stage", 50, stage="pan", at_ns=20 * S)], 60 * S)
    rows = [(r.id, r.start_s, r.end_s) for r in engine.results().stages]
    assert rows == [("warm", 1.0, 20.0), ("pan", 20.0, 30.0), ("pass", 30.0, None)]
    engine.feed([operator("undo", 61, at_ns=50 * S)], 62 * S)
    rows = [(r.id, r.start_s, r.end_s) for r in engine.results().stages]
    assert rows == [("warm", 1.0, 30.0), ("cold", 30.0, None)]


def test_a_stage_under_way_that_began_earlier_is_moved_and_not_begun_twice(made):
    engine = made()
    engine.feed([operator("next", 1), *readings(1, 30), operator("next", 30)], 40 * S)
    engine.feed([operator("stage", 50, stage="cold", at_ns=20 * S)], 60 * S)
    rows = [(r.id, r.start_s, r.end_s) for r in engine.results().stages]
    assert rows == [("warm", 1.0, 20.0), ("cold", 20.0, None)]


def test_a_time_before_all_that_is_kept_counts_as_the_oldest_that_is(made):
    engine = made()
    engine.feed([operator("next", 0), *readings(0, 1500)], 1500 * S)
    engine.feed([operator("stage", 1500, stage="cold", at_ns=5 * S)], 1501 * S)
    row = engine.results().stages[-1]
    assert row.id == "cold"
    assert 1500 - 600 <= row.start_s <= 1500 - 400

"""What can be gone back to: which points, how old, and what is fed again."""

import pytest

from logger.model.event import Event
from logger.watch.engine.then import with_act
from logger.watch.engine.undo import KEPT, OLDEST_NS, SURE_NS, Past, not_said_before

S = 1_000_000_000


def event(t_s, kind="next", seq=0, **more):
    return Event(t_ns=t_s * S, kind=kind, source="operator", seq=seq, **more)


def past(*times_s):
    """One act at each time, and an item after it."""
    found = Past()
    for t_s in times_s:
        act = event(t_s, seq=t_s)
        found.add(f"before {t_s}", t_s * S, act)
        found.items += [act, event(t_s + 1, "note")]
        found.said.append(event(t_s, "said"))
    return found


def test_no_more_acts_are_kept_than_said_and_bases_do_not_count():
    full = past(*range(10, 10 + 2 * KEPT, 2))
    assert len(full.points) == KEPT
    assert full.first == 0
    full.add_base("base", 90 * S)
    full.add("one more", 91 * S, event(91))
    assert len(full.points) == KEPT + 1
    assert full.points[0].t_ns == 12 * S
    assert full.first == 2, "what was fed before the oldest point is let go"
    assert full.items[0].t_ns == 12 * S
    assert all(e.t_ns >= 12 * S for e in full.said)


def test_a_point_is_dropped_once_it_is_older_than_ten_minutes():
    assert (OLDEST_NS, SURE_NS < OLDEST_NS) == (600 * S, True)
    two = past(10, 20)
    assert two.forget(610 * S) == []
    assert (len(two.points), two.too_old) == (2, False)
    two.forget(610 * S + 1)
    assert (len(two.points), two.too_old) == (1, True)
    two.forget(2000 * S)
    assert (two.points, two.items, two.said, two.first) == ([], [], [], 4)


def test_the_end_of_a_stage_by_the_sheets_rule_is_named_when_it_goes():
    rule = Past()
    rule.add("scene", 10 * S, None, "end.warm.1")
    rule.add_base("base", 11 * S)
    assert rule.find_key("end.warm.1") == 0
    assert rule.find_key("other") is None
    assert rule.forget(1000 * S) == ["end.warm.1"]
    assert rule.too_old is False, "nothing was done by anyone"


def test_the_last_act_is_found_or_that_of_a_time_or_number():
    acts = past(10, 20, 30)
    acts.add_base("base", 40 * S)
    assert acts.find() == 2
    assert acts.find(at_ns=20 * S) == 1
    assert acts.find(seq=10) == 0
    assert acts.find(at_ns=25 * S) is None
    assert acts.find(seq=99) is None
    assert Past().find() is None


@pytest.mark.parametrize(("t_s", "place"), [(5, 0), (10, 0), (19, 0), (20, 1), (99, 2)])
def test_the_state_before_a_time_is_the_last_kept_no_later(t_s, place):
    acts = past(10, 20)
    acts.add_base("base", 40 * S)
    acts.add("rule", 50 * S, None, "end.warm.1")
    assert acts.before(t_s * S) == place
    assert Past().before(t_s * S) is None


def test_going_back_feeds_what_came_since_without_the_act():
    acts = past(10, 20, 30)
    point, again, since = acts.cut(1)
    assert point.scene == "before 20"
    assert [(e.t_ns // S, e.kind) for e in again] == [(21, "note"), (30, "next"), (31, "note")]
    assert [e.t_ns // S for e in since] == [20, 30]
    assert [e.t_ns // S for e in acts.items] == [10, 11]
    assert [e.t_ns // S for e in acts.said] == [10]
    based = past(10)
    based.add_base("base", 15 * S)
    based.items.append(event(16, "note"))
    _, again, _ = based.cut(1)
    assert [e.t_ns // S for e in again] == [16], "a base has no act to leave out"


def test_what_was_said_before_counts_once():
    one, two = event(1, "gap", text="a"), event(1, "gap", text="b")
    assert not_said_before([one, two, one], [one]) == [two, one]
    stage = event(1, "stage_start", stage="warm")
    other = event(1, "stage_start", stage="pan")
    assert not_said_before([stage], [other]) == [stage]
    bench = event(1, "gap", stage="warm")
    assert not_said_before([bench], [event(1, "gap", stage="pan")]) == []


def test_an_act_comes_before_what_has_its_time_and_takes_the_place_of_the_old_one():
    items = [event(1, "note"), event(5, "note"), event(7, "next"), event(9, "stage")]
    act = event(5, "stage")
    times = [(e.t_ns // S, e.kind) for e in with_act(items, act, 7 * S)]
    assert times == [(1, "note"), (5, "stage"), (5, "note"), (9, "stage")]
    kept = with_act(items, act, None)
    assert len(kept) == 5
    assert with_act(items, event(99, "stage"), None)[-1].t_ns == 99 * S

"""Which channel moved between two looks, and where the targets of stages lie on the trace."""

import pytest

from logger.model.finding import Finding
from logger.model.rows import StageRow
from logger.model.state import ChannelView
from logger.review.mover import Moved, mover
from logger.review.targets import names_of, targets_of


def seen(values, status="live"):
    units = {"bowl": "g", "bath": "g"}
    return [
        ChannelView(id=name, role="other", label=name, unit=units.get(name, "degC"), value=value,
                    status=status)
        for name, value in values.items()
    ]  # fmt: skip


BEFORE = {"a": 20.0, "b": 20.0, "bowl": 100.0, "bath": 500.0}


@pytest.mark.parametrize(
    ("now", "channel"),
    [
        ({"a": 21.0}, "a"),
        ({"a": 20.9}, None),
        ({"a": 18.0}, "a"),
        ({"bowl": 102.0}, "bowl"),
        ({"bowl": 101.9}, None),
        ({"a": 24.0, "b": 22.0}, "a"),
        ({"a": 24.0, "bowl": 104.0}, "a"),  # four and two of their least
        ({"bowl": 120.0, "a": 24.0}, "bowl"),
        ({"new": 50.0}, None),
        ({"a": None}, None),
        ({}, None),
    ],
)
def test_what_moves_alone_is_told(now, channel):
    """A degree or two grams is moving: common practice, no source."""
    assert mover(BEFORE, seen(now)).channel == channel


def test_two_that_move_alike_are_rivals():
    found = mover(BEFORE, seen({"a": 24.0, "b": 22.1}))
    assert found == Moved(rivals=("a", "b"), change=4.0)
    down = mover(BEFORE, seen({"a": 16.0, "b": 20.1}))
    assert (down.channel, down.change) == ("a", -4.0)


def test_only_live_channels_of_the_unit_count():
    assert mover(BEFORE, seen({"a": 40.0}, status="stale")) == Moved()
    both = seen({"a": 30.0, "bowl": 130.0})
    assert mover(BEFORE, both, "degC").channel == "a"
    assert mover(BEFORE, both, "g").channel == "bowl"


def stage(name, start_s, end_s, kind="heat"):
    return StageRow(id=name, kind=kind, title=None, planned_s=None, start_s=start_s, end_s=end_s)


def target(channel, low=None, high=None, **more):
    given = {"key": "k", "check": "c", "stage": "warm", "verdict": "met", "value": 1.0,
             "unit": "degC", "channel": channel, "low": low, "high": high}  # fmt: skip
    return Finding(**(given | more))


def test_a_stage_is_shared_among_the_targets_of_its_channels():
    found = targets_of(
        [target("fat", 47.0, 58.0), target("water", 44.0), target("fat", 40.0, 60.0)],
        [stage("warm", 100.0, 300.0)],
    )
    assert [(t.channel, t.from_s, t.to_s, t.low, t.high) for t in found] == [
        ("fat", 100.0, 200.0, 47.0, 58.0), ("water", 200.0, 300.0, 44.0, None),
    ]  # fmt: skip


def test_a_target_with_both_ends_counts_before_one_with_an_open_end():
    for pair in ([target("fat", 40.0), target("fat", 47.0, 58.0)],
                 [target("fat", 47.0, 58.0), target("fat", None, 60.0)]):  # fmt: skip
        (found,) = targets_of(pair, [stage("warm", 0.0, 10.0)])
        assert (found.low, found.high) == (47.0, 58.0)


@pytest.mark.parametrize(
    "more", [{"stage": "other"}, {"unit": "g"}, {"channel": None}, {"low": None}]
)
def test_only_temperature_targets_of_a_stage_that_ran_are_drawn(more):
    one = {"channel": "fat", "low": 47.0} | {k: v for k, v in more.items() if k != "channel"}
    found = target(**(one | {"channel": more.get("channel", "fat")}))
    if "channel" in more:
        found = target(None, 47.0)
    assert targets_of([found], [stage("warm", 0.0, 10.0)]) == []
    good = target("fat", 47.0)
    assert targets_of([good], [stage("warm", 0.0, None)]) == []
    assert targets_of([good], [stage("warm", None, 10.0)]) == []
    assert len(targets_of([good], [stage("warm", 0.0, 10.0)])) == 1


def test_a_stage_is_called_by_its_title_then_by_its_kind():
    titled = StageRow(id="w", kind="heat", title="Warm both phases", planned_s=None)
    names = names_of(titled)
    assert names[0] == "Warm both phases"
    assert names[2] == names[1].split()[0]
    unknown = StageRow(id="w", kind="none such", title="Odd work", planned_s=None)
    assert names_of(unknown) == ["Odd work", "Odd work", "Odd"]
    assert names_of(StageRow(id="w", kind="none such", title=None, planned_s=None))[0] == "w"

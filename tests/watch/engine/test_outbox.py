"""What a watcher hands on: a finding takes the place of its like, and none is met unsurely."""

from logger.model.finding import Finding
from logger.watch.engine.contract import Outbox


def finding(**more):
    given = {"key": "heat.fat_c", "check": "fat", "stage": "warm", "verdict": "met", "value": 50.0,
             "expanded_uncertainty": 0.5}  # fmt: skip
    return Finding(**(given | more))


def test_a_finding_takes_the_place_of_the_one_before_and_of_no_other():
    out = Outbox()
    for one in (finding(), finding(stage="pan"), finding(piece=3), finding(value=51.0)):
        out.find(one)
    assert [(f.stage, f.piece, f.value) for f in out.results.findings] == [
        ("warm", None, 51.0), ("pan", None, 50.0), ("warm", 3, 50.0),
    ]  # fmt: skip


def test_a_value_without_an_uncertainty_is_undecided_and_no_value_stays_not_measured():
    out = Outbox()
    out.find(finding(expanded_uncertainty=None))
    out.find(finding(stage="pan", expanded_uncertainty=None, value=None, verdict="not measured"))
    out.find(finding(stage="air", verdict="not met"))
    assert [f.verdict for f in out.results.findings] == ["undecided", "not measured", "not met"]


def test_an_event_of_a_watcher_is_the_engines():
    out = Outbox()
    out.emit(5, "gap", "text", channel="fat", stage="warm", from_s=1.0)
    (event,) = out.events
    assert (event.source, event.channel, event.stage, event.data) == (
        "engine", "fat", "warm", {"from_s": 1.0},
    )  # fmt: skip

"""Rinsing: the operator's words begin and end it."""

import pytest

from logger.watch.stages.rinse.watcher import make

SHEET = """
[sheet]
name = "Smoked beet and barley roll"
[[stage]]
id = "wash"
kind = "rinse"
dwell = { low = "1 min", high = "3 min" }
"""
S = 1_000_000_000


def rinse(make_context):
    context = make_context("wash", sheet=SHEET, start_s=100.0)
    return make(context), context.out


@pytest.mark.parametrize(
    ("seconds", "verdict"), [(30, "not met"), (90, "met"), (61, "undecided"), (200, "not met")]
)
def test_the_dwell_is_the_time_between_two_taps_and_a_tap_is_not_sharp(
    make_context, seconds, verdict
):
    watcher, out = rinse(make_context)
    watcher.end((100 + seconds) * S)
    (found,) = out.results.findings
    assert (found.check, found.verdict) == ("rinsing time", verdict)
    assert found.value == pytest.approx(seconds)


def test_it_says_what_is_left_then_go_then_that_it_is_too_long(make_context):
    watcher, _ = rinse(make_context)
    said = []
    for at_s in (120, 170, 300):
        watcher.tick(at_s * S)
        view = watcher.view(at_s * S)
        said.append((view.say, view.tone, watcher.finished() is not None))
        assert "hot oil" in view.cautions[0]
    assert said[0] == ("Rinse: 40 s left", "wait", False)
    assert said[1][1:] == ("do", True)
    assert said[2][1] == "warn"
    assert [c.active for c in watcher.conditions()] == [True]


def test_without_a_dwell_on_the_sheet_nothing_is_judged(make_context):
    sheet = SHEET.replace('dwell = { low = "1 min", high = "3 min" }', "")
    context = make_context("wash", sheet=sheet)
    watcher = make(context)
    watcher.tick(500 * S)
    watcher.end(500 * S)
    assert context.out.results.findings == []
    assert watcher.conditions() == []

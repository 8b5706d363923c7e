"""A binder gets its time, or the finding says how much it lacked."""

import pytest

from logger.model.bench import bench_of_roles
from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.model.reading import Reading
from logger.watch.engine.engine import SECOND_NS, Engine

S = SECOND_NS
SHEET = """
[sheet]
name = "Roll"
[[ingredient]]
name = "barley binder"
phase = "water"
substance = "binder"
mass = "12 g"
[[stage]]
id = "swell"
kind = "hydrate"
ingredient = "barley binder"
channel = "water"
{more}
[[stage]]
id = "after"
kind = "rinse"
"""


def run_of(more, seconds, temp_c=20.0, u=0.2):
    engine = Engine(
        sheet_from_text(SHEET.format(more=more), "s"), bench_of_roles(["water"]), correctors={}
    )
    items = [Event(t_ns=0, kind="next", source="operator")]
    items += [Reading("water", t_s * S, temp_c, u) for t_s in range(5, seconds, 5)]
    engine.feed(items, seconds * S)
    return engine


def findings(engine, t_s):
    engine.feed([Event(t_ns=t_s * S, kind="next", source="operator")], t_s * S)
    return {f.check: f for f in engine.results().findings}


def test_a_binder_without_a_time_in_the_sheet_gets_the_hour_of_the_trade():
    """About 3 % of binder needs about an hour (common practice, no source)."""
    found = findings(run_of("", 3000), 3000)["time for barley binder"]
    assert (found.verdict, found.low) == ("not met", 3600.0)
    assert found.source == "common practice, no source"
    assert "began 10 min too early" in found.evidence


def test_enough_time_is_met():
    found = findings(run_of('time = { low = "30 min", high = "2 h" }', 1800), 1800)
    assert found["time for barley binder"].verdict == "met"


def test_standing_too_long_is_not_met():
    engine = run_of('time = { high = "10 min" }', 700)
    assert findings(engine, 700)["time for barley binder"].verdict == "not met"


@pytest.mark.parametrize(
    ("temp_c", "verdict"), [(20.0, "met"), (25.2, "undecided"), (27.0, "not met")]
)
def test_both_extremes_of_the_temperature_are_judged(temp_c, verdict):
    engine = run_of('temp = { low = "15 degC", high = "25 degC" }', 700, temp_c)
    found = findings(engine, 700)
    assert found["highest temperature"].verdict == verdict
    assert found["highest temperature"].channel == "water"


def test_too_warm_a_mix_is_an_alarm():
    engine = run_of('temp = { high = "25 degC" }', 100, 27.0)
    assert [a.id for a in engine.state(100 * S).alarms] == ["swell.temp.high"]


def test_the_time_left_is_shown_and_at_its_end_the_sheet_may_go_on():
    engine = run_of('time = { low = "10 min" }\nends = "sheet"', 300)
    view = engine.state(300 * S).view
    assert (view.left_s, view.tone) == (300.0, "wait")
    assert view.say == "Barley binder: 5 min left"
    engine.feed([], 601 * S)
    assert engine.stage_id == "after"


def test_without_a_probe_the_temperature_is_not_measured():
    sheet = SHEET.replace('channel = "water"\n', "")
    more = 'temp = { high = "25 degC" }'
    engine = Engine(
        sheet_from_text(sheet.format(more=more), "s"), bench_of_roles(["water"]), correctors={}
    )
    engine.feed([Event(t_ns=0, kind="next", source="operator")], 10 * S)
    found = findings(engine, 10)["highest temperature"]
    assert found.verdict == "not measured"
    assert "names no probe" in found.evidence

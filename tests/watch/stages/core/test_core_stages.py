"""Chill, cook and hold through the engine: findings, clocks, cautions, the range over stages."""

import math

import pytest

from logger.model.bench import bench_of_roles
from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.model.reading import Reading
from logger.watch.engine.engine import SECOND_NS, Engine
from tests.watch.watched import Watched

S = SECOND_NS
H = 3600


class Run(Watched):
    """A core probe read every so often."""

    def __init__(self, stages, rule="simple"):
        text = f'[sheet]\nname = "Roll"\ndecision_rule = "{rule}"\n{stages}'
        self.engine = Engine(
            sheet_from_text(text, "roll.sheet.toml"), bench_of_roles(["core"]), correctors={}
        )
        self.said = []
        self.t_s = 0.0
        self.say("run_start")

    def say(self, kind, **data):
        event = Event(t_ns=round(self.t_s * S), kind=kind, source="operator", data=data)
        self.said += self.engine.feed([event], event.t_ns)
        return self

    def core(self, seconds, temp, every_s=1.0, u=0.1):
        """Read the core for a time: a number, or a function of the seconds since it began."""
        items = []
        for k in range(round(seconds / every_s)):
            after_s = (k + 1) * every_s
            value = temp(after_s) if callable(temp) else temp
            items.append(Reading("core", round((self.t_s + after_s) * S), value, u))
        self.t_s += seconds
        self.said += self.engine.feed(items, round(self.t_s * S))
        return self

    def silence(self, seconds):
        self.t_s += seconds
        self.said += self.engine.feed([], round(self.t_s * S))
        return self


COOK = """
[[stage]]
id = "pan"
kind = "cook"
core = { low = "63 degC" }
hold = "15 s"
"""


def test_a_core_that_holds_its_limit_long_enough_is_met():
    """63 degC for 15 s (FDA Food Code 3-401.11)."""
    run = Run(COOK).say("next").core(20, 60.0).core(17, 63.5).core(5, 50.0)
    found = run.end()
    assert found["highest core temperature"].verdict == "met"
    assert found["time at 63 °C or more"].verdict == "met"
    assert found["time at 63 °C or more"].value == 16.0


def test_cooking_says_how_far_it_is_to_the_limit_then_how_long_to_hold_then_that_it_is_done():
    """63 degC; less twice 0.1 K at 60 degC there are 3.2 K to go."""
    run = Run(COOK).say("next").core(20, 60.0)
    assert run.view.say == "3.2 K to go until the core is surely at 63 °C"
    assert run.view.left_s is None
    run.core(6, 63.5)
    assert run.view.say == "At 63 °C: hold for 10 s"
    assert run.view.left_s == 10.0
    run.core(10, 63.5)
    assert (run.view.say, run.view.tone) == ("The core has reached its targets", "do")


def test_two_short_times_at_the_limit_do_not_add_up():
    run = Run(COOK).say("next").core(12, 63.5).core(2, 62.0).core(12, 63.5)
    found = run.end()["time at 63 °C or more"]
    assert (found.verdict, found.value) == ("not met", 11.0)


def test_a_gap_breaks_the_time_at_the_limit():
    run = Run(COOK).say("next").core(12, 63.5).silence(30).core(12, 63.5)
    assert run.end()["time at 63 °C or more"].verdict == "not met"


def test_time_within_the_uncertainty_of_the_limit_is_undecided():
    run = Run(COOK, "guarded").say("next").core(30, 63.4, u=0.4)
    found = run.end()
    assert found["highest core temperature"].verdict == "undecided"
    assert found["time at 63 °C or more"].verdict == "undecided"
    assert "within the uncertainty" in found["time at 63 °C or more"].evidence


def test_without_a_reading_nothing_is_met():
    found = Run(COOK).say("next").silence(60).end()
    assert {f.verdict for f in found.values()} == {"not measured"}


def test_a_bench_without_a_core_probe_says_so():
    sheet = sheet_from_text(f'[sheet]\nname = "R"\n{COOK}', "r")
    engine = Engine(sheet, bench_of_roles(["fat"]), correctors={})
    engine.feed([Event(t_ns=0, kind="next", source="operator")], 10 * S)
    assert "the bench has no core probe" in engine.state(10 * S).view.say
    found = [f for f in engine.finish(20 * S).findings if f.stage == "pan"]
    assert [f.verdict for f in found] == ["not measured"] * 2
    assert all("the bench has no core probe" in f.evidence for f in found)


def test_cooking_shows_cautions_in_its_own_words_and_never_calls_food_safe():
    view = Run(COOK).say("next").core(20, 60.0).view
    text = " ".join(view.cautions)
    assert "does not certify food" in text
    assert "Follow local regulation; discard when in doubt." in text
    assert "nothing wet or frozen" in text
    assert "is safe" not in " ".join([view.say, *view.more, *view.cautions])


LETHAL = """
[[stage]]
id = "oven"
kind = "cook"
lethality = "fsis_1999_beef_6_5_log"
"""


def test_a_row_of_the_table_held_for_its_time_is_credited_its_reduction():
    """FSIS Appendix A (1999): 140 degF for 12 min, 6.5 log; read every second, u = 0.1 K."""
    run = Run(LETHAL).say("next").core(721, 60.2 + 1e-9)
    found = run.end()["lethality credited"]
    assert found.verdict == "met"
    assert found.value == pytest.approx(6.5, rel=1e-6)
    for words in ("Salmonella", "beef", "not validated for emulsions", "less its uncertainty"):
        assert words in found.evidence
    assert "June 1999" in found.source


def test_credit_is_computed_from_the_temperature_less_its_uncertainty():
    """60 degC with U = 2 K counts as 58 degC."""
    run = Run(LETHAL).say("next").core(721, 60.0, u=1.0)
    found = run.end()["lethality credited"]
    assert found.verdict == "undecided"
    assert found.value == pytest.approx(6.5 * 720 / (60 * 26.2), rel=0.02)


def test_no_credit_in_a_gap_and_none_below_the_table():
    run = Run(LETHAL).say("next").core(300, 60.3).silence(421).core(2, 60.3)
    found = run.end()["lethality credited"]
    assert found.value == pytest.approx(6.5 * 300 / (720 * 0.75**0.18), rel=1e-6)
    assert found.verdict == "undecided"
    assert "had no readings" in found.evidence
    cool = Run(LETHAL).say("next").core(3600, 54.4).end()["lethality credited"]
    assert (cool.value, cool.verdict) == (0.0, "not met")


def test_an_unknown_uncertainty_gives_no_credit():
    found = Run(LETHAL).say("next").core(800, 62.0, u=math.nan).end()["lethality credited"]
    assert found.value == 0.0
    assert found.verdict == "undecided"


def test_a_table_that_does_not_exist_is_named_with_those_there_are():
    stage = LETHAL.replace("fsis_1999_beef_6_5_log", "poultry")
    found = Run(stage).say("next").core(10, 62.0).end()["lethality credited"]
    assert found.verdict == "not measured"
    assert "fsis_1999_beef_7_log" in found.evidence


CHILL = """
[[stage]]
id = "fridge"
kind = "chill"
core = { high = "5 degC" }
rule_set = "food_code_cooked"
"""


def cooling(start_c, rate_k_per_h):
    return lambda after_s: start_c - rate_k_per_h * after_s / 3600


def test_cooling_in_time_is_met_with_title_and_times():
    run = Run(CHILL).say("next").core(60, 70.0, 10).core(5 * H, cooling(58.0, 20.0), 10)
    assert not run.alarms().keys() & {"fridge.cooling.21", "fridge.cooling.5"}, "its time is up"
    found = run.end()
    assert found["cooling to 21 °C"].verdict == "met"
    assert found["cooling to 5 °C"].verdict == "met"
    assert "3-501.14(A)" in found["cooling to 21 °C"].source
    assert found["cooling to 21 °C"].high == 7200.0
    # From 57 degC, 180 s after 58, down to 21 at 20 K/h.
    step = found["cooling to 21 °C"]
    assert step.value == pytest.approx((57.0 - 21.0) / 20.0 * 3600.0, abs=40.0)
    assert step.to_s - step.from_s == step.value
    assert found["core temperature at the end"].verdict == "met"


def test_cooling_too_slowly_is_an_alarm_that_stays_and_the_clock_goes_on_while_it_is_shelved():
    run = Run(CHILL).say("next").core(60, 70.0, 10).core(2 * H + 600, cooling(58.0, 12.0), 10)
    alarm = run.alarms()["fridge.cooling.21"]
    assert alarm.state == "active unacknowledged"
    assert "discard when in doubt" in alarm.text
    left_s = run.view.left_s
    run.say("shelve", alarm="fridge.cooling.21", for_s=600.0)
    assert run.alarms()["fridge.cooling.21"].state == "shelved"
    run.core(300, 30.0, 10)
    assert run.view.left_s == pytest.approx(left_s - 300)
    assert run.end()["cooling to 21 °C"].verdict == "not met"


def test_the_clock_of_a_core_that_was_hot_in_the_pan_runs_from_there():
    run = Run(COOK + CHILL).say("next").core(60, 65.0, 10).core(H, 50.0, 10)
    run.say("next").core(1.2 * H, cooling(50.0, 25.0), 10)
    found = run.end()["cooling to 21 °C"]
    assert found.verdict == "not met"
    assert found.value > 7200.0


def test_cooling_that_was_not_seen_to_the_end_is_not_met():
    found = Run(CHILL).say("next").core(60, 70.0, 10).core(600, 50.0, 10).end()
    assert found["cooling to 21 °C"].verdict == "not measured"
    assert "the stage ended before" in found["cooling to 21 °C"].evidence


FREEZE = '[[stage]]\nid = "freezer"\nkind = "chill"\n'


def freezing(after_s):
    if after_s < 1000:
        return 9.0 - 0.01 * after_s
    return -1.0 - 0.0001 * (after_s - 1000) if after_s < 2200 else -1.12 - 0.005 * (after_s - 2200)


def test_a_core_that_freezes_shows_its_plateau_and_then_falls_on():
    run = Run(FREEZE).say("next").core(2600, freezing)
    events = [e for e in run.said if e.kind == "freezing_plateau"]
    assert len(events) == 1
    values = run.engine.results().values
    assert values["freezing_plateau_c"] == pytest.approx(-1.05, abs=0.2)
    assert 950 <= values["freezing_plateau_from_s"] <= 1050
    assert 2150 <= values["freezing_plateau_to_s"] <= 2350


def test_a_core_that_settles_at_the_temperature_of_the_fridge_is_not_said_to_have_frozen():
    run = Run(FREEZE).say("next").core(3600, lambda s: -1.0 + 10.0 * math.exp(-s / 300))
    assert [e for e in run.said if e.kind == "freezing_plateau"] == []


HOLD = """
[[stage]]
id = "pass"
kind = "hold"
rule_set = "food_code_hot"
time = { high = "1 h" }
"""


def test_holding_judges_the_worst_of_the_core():
    run = Run(HOLD).say("next").core(600, 61.0).core(60, 56.0).core(60, 61.0)
    found = run.end()["core temperature by the rule set"]
    assert (found.verdict, found.value, found.low) == ("not met", 56.0, 57.0)


def test_holding_with_long_silence_is_undecided_at_best():
    run = Run(HOLD).say("next").core(600, 61.0).silence(120).core(60, 61.0)
    found = run.end()["core temperature by the rule set"]
    assert found.verdict == "undecided"
    assert "had no readings" in found.evidence


def test_the_holding_clock_goes_on_through_silence():
    run = Run(HOLD).say("next").core(600, 61.0).silence(3100)
    assert "pass.time" in run.alarms()
    assert run.view.tone == "stop"
    assert run.end()["holding time"].verdict == "not met"


def test_time_as_the_control_counts_from_the_start_of_the_stage():
    """FDA Food Code 3-501.19(B): 4 h."""
    stage = '[[stage]]\nid = "table"\nkind = "hold"\nrule_set = "food_code_time_4h"\n'
    run = Run(stage).say("next").core(4 * H, 22.0, 60)
    assert run.end()["time by the rule set"].verdict == "met"
    late = Run(stage).say("next").core(4 * H + 60, 22.0, 60)
    assert late.end()["time by the rule set"].verdict == "not met"


def test_the_time_in_the_range_is_counted_over_all_stages_and_through_gaps():
    """5 to 57 degC (FDA Food Code 3-501.16); the core goes from 30 to 70, to 40 and to 2 degC."""
    run = Run(COOK + CHILL + HOLD).core(100, 30.0)
    run.say("next").core(100, 30.0).core(100, lambda s: 30.0 + 0.4 * s)
    run.say("next").core(100, lambda s: 70.0 - 0.3 * s)
    run.core(100, 40.0).silence(300).core(100, 40.0).core(100, lambda s: 40.0 - 0.38 * s)
    run.say("next").core(100, 2.0)
    found = run.end()["possible time between 5 and 57 °C"]
    hot_s, warm_s, cold_s = (57 - 30) / 0.4, (70 - 57) / 0.3, (40 - 5) / 0.38
    assert found.value == pytest.approx(100 + hot_s + (100 - warm_s) + 500 + cold_s, abs=4)
    assert found.verdict == "undecided"
    assert found.evidence.startswith("at most 13 min 38 s; the sheet sets no limit; 8 min 3")


def test_the_time_in_the_range_with_an_unknown_uncertainty_is_at_most_that_and_as_read_less():
    """All of it may be in the range for all that is known; as read, until 57 degC is passed."""
    run = Run(COOK).say("next").core(100, 40.0, u=math.nan)
    run.core(63, lambda s: 40.0 + 0.4 * s, u=math.nan).core(100, 65.2, u=math.nan)
    found = run.end()["possible time between 5 and 57 °C"]
    assert found.value == 262.0
    assert found.evidence.startswith("at most 4 min 22 s; ")
    assert found.evidence.endswith("; 2 min 22 s from the readings alone")


def test_the_time_in_the_range_is_said_once_where_both_are_the_same():
    found = Run(COOK).say("next").core(100, 40.0).end()["possible time between 5 and 57 °C"]
    assert found.evidence == "at most 1 min 39 s; the sheet sets no limit"


def test_the_time_in_the_range_is_no_upper_bound_once_the_probe_was_moved():
    run = Run(COOK).say("next").core(300, lambda s: 40.0 + s / 15.0).core(200, 80.0)
    evidence = run.end()["possible time between 5 and 57 °C"].evidence
    assert "at most" not in evidence
    assert "moved at 5:" in evidence
    assert evidence.endswith("so it may be more")


def test_a_probe_on_the_table_before_the_first_core_stage_does_not_count():
    run = Run('[[stage]]\nid = "a"\nkind = "rinse"\n' + COOK).say("next").core(500, 22.0)
    run.say("next").core(60, 65.0)
    assert run.end()["possible time between 5 and 57 °C"].value == 0.0


def test_families_of_rule_sets_are_not_mixed_silently():
    stages = CHILL.replace("food_code_cooked", "maine_346_3_12") + HOLD
    found = Run(stages).say("next").core(10, 65.0).end()["rule sets"]
    assert found.verdict == "not measured"
    assert "keep to one" in found.evidence


@pytest.mark.parametrize(
    ("temp_c", "silent_s", "at_most_s"),
    [(40.0, 50, 149.0), (40.0, 0, 99.0), (70.0, 50, 0.0), (2.0, 50, 0.0)],
)
def test_while_a_core_in_the_range_is_silent_its_time_there_runs_on(temp_c, silent_s, at_most_s):
    run = Run(COOK).say("next").core(100, temp_c).silence(silent_s)
    found = run.end()["possible time between 5 and 57 °C"]
    assert found.value == at_most_s
    assert run.engine.results().values["danger_zone_s"] == at_most_s


@pytest.mark.parametrize(
    ("temp_c", "counts"),
    [(4.7, False), (4.9, True), (5.1, True), (56.9, True), (57.1, True), (57.3, False)],
)
def test_a_core_counts_as_in_the_range_unless_its_uncertainty_leaves_no_doubt(temp_c, counts):
    """5 to 57 degC (FDA Food Code 3-501.16); U = 0.2 K. What is read counts without it."""
    found = Run(COOK).say("next").core(101, temp_c).end()["possible time between 5 and 57 °C"]
    assert found.value == (100.0 if counts else 0.0)
    as_read = 5.0 < temp_c < 57.0
    assert ("; 0 s from the readings alone" in found.evidence) is (counts and not as_read)


@pytest.mark.parametrize(
    ("silent_s", "high_c", "temp_c", "verdict"),
    [
        (59, 75, 70.0, "met"),
        (63, 75, 70.0, "undecided"),
        (63, None, 70.0, "met"),
        (59, None, 60.0, "not met"),
        (63, None, 60.0, "undecided"),
    ],
)
def test_a_minute_without_readings_matters_for_an_upper_limit_or_a_miss(
    silent_s, high_c, temp_c, verdict
):
    """What was missed can only have been hotter than the highest that was read."""
    limit = 'low = "63 degC"' + (f', high = "{high_c} degC"' if high_c else "")
    stage = COOK.replace('low = "63 degC"', limit)
    run = Run(stage).say("next").core(100, temp_c).silence(silent_s).core(20, temp_c)
    found = run.end()["highest core temperature"]
    assert found.verdict == verdict
    assert ("had no readings" in found.evidence) is (verdict == "undecided")

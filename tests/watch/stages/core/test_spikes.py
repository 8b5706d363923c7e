"""One reading overturns no clock, and 20 s of a probe in the air are no verdict, either way.

Times and temperatures: FDA Food Code 3-401.11, 3-501.14(A), 3-501.16(A); FSIS Appendix A (1999).
"""

import math
import random

import pytest

from tests.watch.stages.core.test_core_stages import CHILL, COOK, HOLD, LETHAL, H, Run

RULE = "core temperature by the rule set"


def chilled(tau_s, spikes=(), hours=2.9, every_s=10.0):
    """Cool from 60 towards 2 degC with a time constant; spikes are (hour, degC, seconds)."""

    def read_c(after_s):
        for hour, temp_c, lasts_s in spikes:
            if hour * H <= after_s < hour * H + lasts_s:
                return temp_c
        return 2.0 + 58.0 * math.exp(-after_s / tau_s)

    run = Run(CHILL).say("next").core(30, 60.0, every_s).core(hours * H, read_c, every_s)
    return run.end()["cooling to 21 °C"].verdict


SLOW_S, FAST_S = 9000.0, 5000.0
"""Time constants with which 21 degC is reached after 2.8 h, and after 1.55 h."""


@pytest.mark.parametrize(
    "spikes",
    [
        [],
        [(2.2, 60.0, 1)],  # restarted the clock: what was late would be in time
        [(1.5, 4.0, 1)],  # ended it
        [(1.2, 4.0, 20), (1.5, 4.0, 300), (2.2, 65.0, 20)],  # in the air of the fridge; fell out
        [(2.2, 75.0, 180)],  # washed in hot water
    ],
)
def test_a_chill_that_is_not_met_stays_not_met(spikes):
    assert chilled(SLOW_S, spikes) == "not met"


@pytest.mark.parametrize("spikes", [[], [(1.7, 60.0, 1)], [(0.5, 70.0, 20), (1.0, 4.0, 20)]])
def test_a_chill_that_is_met_stays_met(spikes):
    assert chilled(FAST_S, spikes, hours=1.8) == "met"


def test_a_probe_that_fell_into_the_cold_for_good_meets_nothing():
    assert chilled(SLOW_S, [(0.5, 3.0, 5 * H)], hours=0.8) == "undecided"


@pytest.mark.parametrize("seconds", [1, 3, 20])
def test_a_hot_moment_cooks_nothing(seconds):
    run = Run(COOK).say("next").core(300, 50.0).core(seconds, 70.0).core(300, 50.0)
    found = run.end()
    assert found["highest core temperature"].verdict == "not met"
    assert found["highest core temperature"].value == pytest.approx(50.0)
    assert found["time at 63 °C or more"].verdict == "not met"


def test_a_tip_that_stays_on_the_pan_cooks_nothing():
    run = Run(COOK).say("next").core(300, 50.0).core(120, 90.0)
    assert "The core has reached" not in run.view.say
    found = run.end()
    assert found["highest core temperature"].verdict == "undecided"
    assert found["time at 63 °C or more"].verdict == "undecided"


def test_a_hot_moment_is_credited_nothing():
    run = Run(LETHAL).say("next").core(300, 50.0).core(20, 75.0).core(300, 50.0)
    assert run.end()["lethality credited"].value == 0.0


def test_a_limit_without_a_time_is_met_by_a_stretch_and_not_by_less():
    instant = COOK.replace('hold = "15 s"\n', "").replace("63", "74")

    def heated(top_s):
        run = Run(instant).say("next").core(200, lambda s: 64.0 + 0.05 * s)
        run.core(top_s, 74.2).core(100, lambda s: 73.8 - 0.05 * s)
        return run.end()["highest core temperature"].verdict

    assert [heated(s) for s in (1, 5, 30)] == ["not met", "not met", "met"]


def test_a_probe_that_was_put_into_the_piece_late_is_believed():
    """From the table into a piece that is done."""
    run = Run(COOK).say("next").core(60, 21.0).core(90, lambda s: 72.0 - 51.0 * math.exp(-s / 4))
    found = run.end()
    assert found["highest core temperature"].verdict == "met"
    assert found["time at 63 °C or more"].verdict == "met"


def in_the_air(after_s):
    return 24.0 + 37.0 * math.exp(-after_s / 5.0)


def back_in(after_s):
    return 61.0 - (61.0 - in_the_air(20.0)) * math.exp(-after_s / 5.0)


def test_one_cold_reading_is_no_lapse_of_a_hot_hold():
    run = Run(HOLD).say("next").core(600, 61.0).core(1, 5.0).core(600, 61.0)
    assert run.end()[RULE].verdict == "met"


def test_20_s_in_the_air_are_no_lapse_of_a_hot_hold():
    run = Run(HOLD).say("next").core(600, 61.0).core(20, in_the_air).core(600, back_in)
    found = run.end()[RULE]
    assert found.verdict == "met"
    assert found.value > 59.0
    gap = run.engine.results().gaps[-1]
    assert gap.why == "readings that change faster than the core of food can"


def test_a_lapse_that_lasts_is_not_met():
    run = Run(HOLD).say("next").core(600, 61.0).core(300, lambda s: 61.0 - 0.03 * s)
    run.core(300, lambda s: 52.0 + 0.03 * s)
    assert run.end()[RULE].verdict == "not met"


def test_a_probe_that_hung_in_the_air_for_minutes_leaves_a_hot_hold_undecided():
    run = Run(HOLD).say("next").core(600, 61.0).core(300, 24.0).core(600, 61.0)
    assert run.end()[RULE].verdict == "undecided"


def test_while_the_probe_is_out_the_screen_says_so():
    run = Run(HOLD).say("next").core(600, 61.0).core(15, in_the_air)
    (channel,) = run.state.channels
    assert (channel.status, channel.value) == ("out", None)
    assert "in the middle of a piece" in channel.says


def test_the_same_stream_gives_the_same_answer_however_it_is_cut():
    def played(seed):
        rng = random.Random(seed)
        run = Run(CHILL).say("next")

        def read_c(after_s):
            if 900 < after_s < 920 or round(after_s) in (300, 1500):
                return 4.0
            return 2.0 + 58.0 * math.exp(-after_s / 5000.0)

        done_s = 0
        while done_s < 1800:
            step_s = 1800 if seed == 0 else min(rng.choice([1, 7, 60, 311]), 1800 - done_s)
            run.core(step_s, lambda s, done_s=done_s: read_c(done_s + s))
            done_s += step_s
        return [(e.t_ns, e.kind, e.text) for e in run.said], run.end()

    assert played(0) == played(1) == played(2)


def test_a_probe_that_goes_slowly_into_a_warm_piece_is_told_as_moved_and_believed():
    """The first readings on its way could be those of food."""
    run = Run(COOK).say("next").core(60, 21.0).core(90, lambda s: 66.0 - 45.0 * math.exp(-s / 14))
    assert [e.kind for e in run.said if e.kind in ("stale", "gap", "probe_moved")] == [
        "probe_moved"
    ]
    found = run.end()
    assert found["highest core temperature"].verdict == "met"
    assert run.engine.results().gaps == []

"""Two-stage cooling to the second, through gaps, from before the stage, with its uncertainty.

Times and temperatures: FDA Food Code 3-501.14(A) and (B); C.M.R. 01-001 ch. 346 section 3.12.
"""

import pytest

from logger.science.heat.cooling_rules import cooling_rule
from logger.watch.stages.core.cooling_clock import CoolingClock

S = 1_000_000_000
H = 3600


def clock(key="food_code_cooked", rule="simple", last_hot_s=None):
    hot = round(last_hot_s * S) if last_hot_s is not None else None
    return CoolingClock(cooling_rule(key), rule, 0, hot, stretch_ns=0)


def feed(clock, *points, u=0.0):
    """Feed (seconds, temperature) points, each as three readings: a stretch of no length."""
    for t_s, temp_c in points:
        for _ in range(3):
            clock.take(round(t_s * S), temp_c, u)
    return clock


def verdicts(clock, t_s):
    return [r.verdict for r in clock.results(round(t_s * S))]


def test_exactly_two_hours_and_exactly_six_hours_are_in_time():
    cooled = feed(clock(), (0, 57.0), (1, 56.9), (2 * H, 21.0), (6 * H, 5.0))
    assert verdicts(cooled, 6 * H) == ["met", "met"]


def test_one_second_more_than_two_hours_is_not():
    cooled = feed(clock(), (0, 57.0), (2 * H, 21.1), (2 * H + 1, 21.0), (6 * H, 5.0))
    assert verdicts(cooled, 6 * H) == ["not met", "met"]


def test_one_second_more_than_six_hours_is_not():
    cooled = feed(clock(), (0, 57.0), (2 * H, 21.0), (6 * H, 5.1), (6 * H + 1, 5.0))
    assert verdicts(cooled, 6 * H + 1) == ["met", "not met"]


def test_time_saved_in_the_first_step_may_be_used_in_the_second():
    """21 degC after 1 h leaves 5 h down to 5 degC."""
    cooled = feed(clock(), (0, 57.0), (1 * H, 21.0), (5.9 * H, 5.0))
    assert verdicts(cooled, 6 * H) == ["met", "met"]


def test_the_older_variant_carries_nothing_over():
    """70 to 41 degF within 4 h of reaching 70 degF."""
    cooled = feed(clock("maine_346_3_12"), (0, 60.0), (1 * H, 21.0), (5 * H, 5.1), (5.9 * H, 5.0))
    assert verdicts(cooled, 6 * H) == ["met", "not met"]
    assert cooled.results(6 * H * S)[1].deadline_ns == 5 * H * S


def test_food_from_room_temperature_has_four_hours_from_the_start():
    warm = clock("food_code_ambient")
    assert verdicts(feed(warm, (0, 22.0), (4 * H, 5.0)), 4 * H) == ["met"]
    late = clock("food_code_ambient")
    assert verdicts(feed(late, (0, 22.0), (4 * H, 5.1), (4 * H + 1, 5.0)), 5 * H) == ["not met"]


def test_the_clock_starts_when_the_core_was_last_hot():
    cooled = feed(clock(), (0, 70.0), (600, 57.0), (601, 56.9), (7800, 21.0))
    assert cooled.start_ns == 600 * S
    assert verdicts(cooled, 7800)[0] == "met"


def test_time_before_the_stage_counts():
    """Left 57 degC an hour before it was put into the fridge."""
    cooled = feed(clock(last_hot_s=-3600), (0, 50.0), (1 * H, 21.5), (1.5 * H, 21.0))
    assert verdicts(cooled, 2 * H)[0] == "not met"


def test_a_start_that_was_not_seen_never_passes():
    cooled = feed(clock(), (0, 50.0), (1 * H, 21.0))
    result = cooled.results(1 * H * S)[0]
    assert result.verdict == "undecided"
    assert "not seen above 57 °C" in result.says


def test_reheating_starts_the_clock_anew():
    cooled = feed(clock(), (0, 60.0), (3 * H, 40.0))
    assert verdicts(cooled, 3 * H)[0] == "not met"
    feed(cooled, (3.5 * H, 75.0), (5 * H, 21.0))
    assert verdicts(cooled, 5 * H)[0] == "met"


def test_the_clock_goes_on_through_a_gap():
    """Nothing is heard for two hours; then it is still above: the time was not kept."""
    cooled = feed(clock(), (0, 57.0), (600, 50.0), (2 * H + 600, 30.0))
    assert verdicts(cooled, 2 * H + 600)[0] == "not met"


def test_a_gap_over_the_deadline_that_ends_below_the_limit_was_not_measured():
    cooled = feed(clock(), (0, 57.0), (600, 50.0), (3 * H, 15.0))
    assert verdicts(cooled, 3 * H)[0] == "not measured"


def test_silence_since_the_deadline_is_not_a_pass():
    cooled = feed(clock(), (0, 57.0), (600, 50.0))
    assert verdicts(cooled, 2 * H) == [None, None]
    assert verdicts(cooled, 2 * H + 1) == ["not measured", None]


@pytest.mark.parametrize(
    ("at_deadline_c", "verdict"),
    [(20.0, "met"), (20.5, "undecided"), (21.5, "undecided"), (22.5, "not met")],
)
def test_the_uncertainty_decides(at_deadline_c, verdict):
    """u = 0.5 K: guard band 1 K on either side of 21 degC."""
    cooled = clock(rule="guarded")
    feed(cooled, (0, 70.0), (10, 58.0), (11, 55.0), u=0.5)
    feed(cooled, (10 + 2 * H, at_deadline_c), (11 + 2 * H, at_deadline_c), u=0.5)
    assert verdicts(cooled, 12 + 2 * H)[0] == verdict


def test_an_uncertain_start_is_taken_early():
    """57.5 degC with U = 1 K is not surely hot, so the clock runs from before."""
    cooled = clock(rule="guarded")
    feed(cooled, (0, 58.5), (100, 57.5), u=0.5)
    assert cooled.start_ns == 0

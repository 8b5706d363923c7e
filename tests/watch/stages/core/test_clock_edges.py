"""The cooling clock at its edges: stretches, gaps, doubt, and what is known of a deadline.

Times and temperatures: FDA Food Code 3-501.14(A).
"""

import pytest

from logger.science.heat.cooling_rules import cooling_rule
from logger.watch.stages.core.cooling_clock import CoolingClock

S = 1_000_000_000
H = 3600


def clock(rule="simple", stretch_s=10, last_hot_s=0):
    hot = None if last_hot_s is None else last_hot_s * S
    return CoolingClock(cooling_rule("food_code_cooked"), rule, 0, hot, stretch_ns=stretch_s * S)


def feed(one, from_s, to_s, temp_c, u=0.0, every_s=5, **more):
    for t_s in range(from_s, to_s + 1, every_s):
        one.take(t_s * S, temp_c, u, **more)
    return one


def first(one, t_s):
    step = one.results(round(t_s * S))[0]
    return step.verdict, step.reached_ns


def test_a_limit_is_reached_at_the_first_reading_of_a_stretch():
    cooled = feed(clock(), 600, 605, 21.0)
    assert first(cooled, 700) == (None, None)
    assert first(feed(cooled, 610, 610, 21.0), 700) == ("met", 600 * S)
    torn = feed(clock(), 600, 605, 21.0)
    torn.broken()
    assert first(feed(torn, 610, 615, 21.0), 700) == (None, None)
    warmer = feed(feed(clock(), 600, 605, 21.0), 606, 606, 21.1)
    assert first(feed(warmer, 610, 615, 21.0), 700) == (None, None)


def test_a_stretch_that_begins_in_time_may_end_after_it():
    edge = feed(clock(), 2 * H - 100, 2 * H - 5, 22.0)
    feed(edge, 2 * H, 2 * H + 5, 21.0)
    assert first(edge, 2 * H + 6) == (None, None), "it goes on"
    assert first(feed(edge, 2 * H + 10, 2 * H + 10, 21.0), 2 * H + 20) == ("met", 2 * H * S)
    late = feed(clock(), 2 * H - 100, 2 * H, 22.0)
    assert first(feed(late, 2 * H + 1, 2 * H + 21, 21.0), 2 * H + 30)[0] == "not met"


@pytest.mark.parametrize(
    ("seen_s", "temp_c", "u", "verdict"),
    [
        (2 * H - 60, 22.0, 0.0, "not met"),
        (2 * H - 61, 22.0, 0.0, "not measured"),
        (2 * H, 22.0, 0.0, "not met"),
        (2 * H - 10, 21.5, 0.5, "undecided"),
        (2 * H - 10, 22.1, 0.5, "not met"),
    ],
)
def test_a_reading_up_to_a_minute_before_tells_how_it_stood(seen_s, temp_c, u, verdict):
    seen = feed(clock("guarded"), seen_s, seen_s, temp_c, u)
    assert first(seen, 2 * H)[0] is None
    assert first(seen, 2 * H + 1)[0] == verdict


@pytest.mark.parametrize(("temp_c", "verdict"), [(25.0, "not met"), (15.0, "not measured")])
def test_after_a_gap_over_the_deadline_only_a_warm_core_tells(temp_c, verdict):
    """A core that cools was not below the limit earlier if it is above it now."""
    seen = feed(clock(), 600, 600, 40.0)
    feed(seen, 2 * H + 300, 2 * H + 300, temp_c)
    feed(seen, 2 * H + 400, 2 * H + 400, 30.0)
    assert first(seen, 2 * H + 500)[0] == verdict


def test_what_doubted_readings_reached_is_undecided_and_forgotten_once_the_probe_is_back():
    doubted = feed(clock(), 600, 620, 15.0, in_doubt=True)
    assert first(doubted, 700)[0] == "undecided"
    doubted.broken()
    doubted.believed()
    assert first(doubted, 700) == (None, None)
    assert first(feed(doubted, 800, 820, 15.0), 900) == ("met", 800 * S)


def test_a_hot_core_starts_the_clock_anew_unless_the_probe_went_to_something_hotter():
    again = feed(clock(), 600, 620, 60.0)
    assert again.start_ns == 620 * S
    assert feed(clock(), 600, 605, 60.0).start_ns == 0
    assert feed(clock(), 600, 620, 60.0, may_be_hot=False).start_ns == 0
    cold_first = feed(clock(), 600, 620, 15.0)
    assert first(cold_first, 700)[0] == "met"
    assert first(feed(cold_first, 800, 820, 60.0), 900) == (None, None)


def test_a_core_that_was_never_seen_hot_leaves_the_time_before_unknown():
    unseen = feed(clock(last_hot_s=None), 600, 620, 15.0)
    assert unseen.start_seen is False
    assert first(unseen, 700)[0] == "undecided"
    assert feed(unseen, 700, 720, 60.0).start_seen is True

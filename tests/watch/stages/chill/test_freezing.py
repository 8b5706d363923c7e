"""A freezing plateau: how long, how flat, where, and what must follow."""

import pytest

from logger.watch.stages.chill.freezing import Freezing

S = 1_000_000_000


def fed(*parts):
    """What a core does: so many seconds at a temperature, one after the other."""
    freezing, t_s, when = Freezing(), 0, None
    for lasts_s, temp_c in parts:
        for _ in range(lasts_s):
            t_s += 1
            if freezing.take(t_s * S, temp_c):
                when = t_s
    return freezing, when


@pytest.mark.parametrize(("lasts_s", "seen"), [(300, False), (301, True)])
def test_a_plateau_lasts_five_minutes(lasts_s, seen):
    freezing, _ = fed((5, 8.0), (lasts_s, -1.0))
    assert (freezing.level_c is not None) is seen
    assert bool(freezing.says()) is seen


@pytest.mark.parametrize(
    ("level_c", "seen"), [(0.5, True), (0.6, False), (-6.0, True), (-6.1, False)]
)
def test_foods_begin_to_freeze_between_half_a_degree_and_minus_six(level_c, seen):
    """Common practice, no source."""
    assert (fed((301, level_c))[0].level_c == level_c) is seen


@pytest.mark.parametrize(("step_k", "seen"), [(0.39, True), (0.41, False)])
def test_a_plateau_is_flat_within_two_fifths_of_a_kelvin(step_k, seen):
    freezing, _ = fed((200, -1.0), (101, -1.0 - step_k))
    assert (freezing.level_c is not None) is seen
    assert freezing.level_c in (None, -1.0)  # the middle one of all


@pytest.mark.parametrize(("fall_k", "froze"), [(0.99, False), (1.01, True)])
def test_only_a_further_fall_tells_freezing(fall_k, froze):
    freezing, when = fed((301, -1.0), (60, -1.2), (3, -1.0 - fall_k), (5, -9.0 if froze else -1.0))
    assert freezing.confirmed is froze
    assert (when == 362) is froze
    if froze:
        assert (freezing.from_ns, freezing.to_ns) == (1 * S, 361 * S)
        assert freezing.says() == "The core froze: it stayed at −1.0 °C for 6 min, then fell on"
        assert freezing.take(400 * S, -30.0) is False


def test_a_core_that_gets_warm_again_was_at_the_temperature_of_the_cabinet():
    assert fed((301, -1.0), (1, -0.01))[0].level_c == -1.0
    freezing, _ = fed((301, -1.0), (1, 0.01))
    assert freezing.level_c is None
    assert fed((301, -1.0), (1, 0.01), (300, -1.0))[0].level_c is None


def test_no_plateau_begins_across_a_gap():
    freezing, _ = fed((200, -1.0))
    freezing.gap()
    for k in range(300):
        freezing.take((300 + k) * S, -1.0)
    assert freezing.level_c is None
    freezing.take(600 * S, -1.0)
    assert (freezing.level_c, freezing.from_ns) == (-1.0, 300 * S)

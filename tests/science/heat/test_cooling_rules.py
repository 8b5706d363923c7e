"""Rule sets are data with title, edition and family."""

import pytest

from logger.model.errors import InputError
from logger.science.heat.cooling_rules import (
    DEFAULT_FAMILY,
    cooling_rule,
    holding_rule,
    names,
    zone_of,
)


def test_two_stage_cooling_of_cooked_food():
    """FDA Food Code 3-501.14(A): 57 to 21 degC within 2 h, and to 5 degC within 6 h in total."""
    rule = cooling_rule("food_code_cooked")
    assert rule.starts_below_c == 57.0
    assert [(s.limit_c, s.within_s, s.counted_from) for s in rule.steps] == [
        (21.0, 7200.0, "start"),
        (5.0, 21600.0, "start"),
    ]


def test_cooling_of_food_from_room_temperature():
    """FDA Food Code 3-501.14(B): 5 degC within 4 h."""
    rule = cooling_rule("food_code_ambient")
    assert rule.starts_below_c is None
    assert [(s.limit_c, s.within_s) for s in rule.steps] == [(5.0, 14400.0)]


def test_the_older_variant_starts_at_60_degc_and_carries_nothing_over():
    """C.M.R. 01-001 ch. 346 section 3.12(A): 140 to 70 degF in 2 h, 70 to 41 degF in 4 h."""
    rule = cooling_rule("maine_346_3_12")
    assert rule.starts_below_c == 60.0
    assert [(s.limit_c, s.within_s, s.counted_from) for s in rule.steps] == [
        (21.0, 7200.0, "start"),
        (5.0, 14400.0, "previous"),
    ]


def test_holding_hot_cold_and_by_time():
    """FDA Food Code 3-501.16 and 3-501.19."""
    assert holding_rule("food_code_hot").low_c == 57.0
    assert holding_rule("food_code_cold").high_c == 5.0
    assert holding_rule("food_code_time_4h").within_s == 14400.0
    six = holding_rule("food_code_time_6h")
    assert (six.high_c, six.within_s) == (21.0, 21600.0)


def test_the_range_to_keep_out_of_belongs_to_the_family():
    assert (zone_of("FDA Food Code").low_c, zone_of("FDA Food Code").high_c) == (5.0, 57.0)
    assert zone_of("Maine ch. 346").high_c == 60.0
    assert zone_of("nobody").family == DEFAULT_FAMILY


def test_an_unknown_set_is_refused_with_those_there_are():
    with pytest.raises(InputError, match="food_code_cooked"):
        cooling_rule("fda")


@pytest.mark.parametrize("key", names("cooling"))
def test_every_cooling_set_has_title_and_edition(key):
    assert cooling_rule(key).title
    assert cooling_rule(key).edition


@pytest.mark.parametrize("key", names("holding"))
def test_every_holding_set_has_title_and_edition(key):
    assert holding_rule(key).title
    assert holding_rule(key).edition

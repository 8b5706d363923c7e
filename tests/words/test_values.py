"""Values, limits, bands, money, counts and percentages as they are written.

How many digits an uncertainty has: JCGM 100:2008 (GUM), 7.2.6, from memory: at most two, and the
value is rounded to be consistent with it.
"""

import pytest

from logger.words.bands import band_on_screen, band_text
from logger.words.counts import count_text
from logger.words.digits import exact, exported, fixed
from logger.words.money import money_text, price_text
from logger.words.values import exact_text, number_text, percent_text, spread_text, value_text

NAN, INF = float("nan"), float("inf")


@pytest.mark.parametrize(
    ("value", "unit", "u", "text"),
    [
        (46.13, "degC", 0.6, "46.1 ± 0.6 °C"),
        (180.2, "g", 0.04, "180.20 ± 0.04 g"),
        (103.2, "%", 31.0, "103 ± 31 %"),
        (1234.5, "g", 23.0, "1234 ± 23 g"),
        (7380.0, "s", None, "2 h 3 min"),
        (46.13, "degC", 0.124, "46.13 ± 0.12 °C"),
        (46.13, "degC", 0.0996, "46.13 ± 0.10 °C"),
        (46.13, "degC", 1.95, "46 ± 2 °C"),
        (46.13, "degC", 1.94, "46.1 ± 1.9 °C"),
        (46.13, "degC", 0.96, "46.1 ± 1.0 °C"),
        (46.13, "degC", 9.7, "46 ± 10 °C"),
        (-0.04, "K", 0.6, "0.0 ± 0.6 K"),
        (-0.4, "K", 0.3, "−0.4 ± 0.3 K"),
        (-0.0, "K", None, "0.0 K"),
        (46.13, "degC", None, "46.1 °C"),
        (46.13, "degC", NAN, "46.1 °C"),
        (46.13, "degC", INF, "46.1 °C"),
        (46.13, "degC", 0.0, "46.1 °C"),
        (46.13, "degC", 1e-9, "46.1 °C"),
        (4.56, "g", None, "4.56 g"),
        (456.78, "g", None, "456.8 g"),
        (12.34, "percent", None, "12.3 %"),
        (1234567.89, "g", None, "1234567.9 g"),
        (1.5e15, "g", 2.0, "1.5e+15 ± 2 g"),
        (482.0, "s", 3.0, "8 min 2 s ± 3 s"),
        (4.4628, "EUR", None, "4.46 EUR"),
        (9.8, "EUR/kg", None, "9.80 EUR/kg"),
        (NAN, "degC", 0.6, "–"),
        (INF, "degC", 0.6, "–"),
        (None, "degC", 0.6, "–"),
        (10.05762, "Ohm", 0.027, "10.06 ± 0.03 Ohm"),
        (7.0, "", 0.1, "7.00 ± 0.10"),
    ],
)
def test_a_value_goes_to_the_place_of_its_uncertainty_with_one_unit(value, unit, u, text):
    assert value_text(value, unit, u) == text


def test_value_and_spread_alone_have_the_same_places():
    assert (number_text(46.13, "degC", 0.04), spread_text(0.04)) == ("46.13", "± 0.04")
    assert [spread_text(u, "s") for u in (0.4, 3.0, 71.0, 150.0)] == [
        "± 0.4 s", "± 3 s", "± 1 min 10 s", "± 2 min",
    ]  # fmt: skip
    assert spread_text(None) == spread_text(0.0) == spread_text(NAN) == ""


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (178.2, "178.2"), (47.0, "47"), (22.400000000000002, "22.4"), (-1.0, "−1"), (-0.0, "0"),
        (1234567.5, "1234568"), (100.0, "100"), (0.25, "0.25"), (0.00001, "0"), (NAN, "–"),
    ],
)  # fmt: skip
def test_a_limit_keeps_the_digits_it_was_given(value, text):
    assert exact(value) == text


def test_a_set_time_is_a_duration_and_a_set_value_has_its_unit():
    assert exact_text(90.0, "s") == "1 min 30 s"
    assert exact_text(2.5, "percent") == "2.5 %"


@pytest.mark.parametrize("value", [1e12, -1e15, 1e300])
def test_a_very_large_number_is_short(value):
    assert len(fixed(value, 2)) < 10


def test_an_exported_number_has_no_binary_noise_and_a_plain_minus():
    assert repr(exported(22.400000000000002)) == "22.4"
    assert repr(exported(-0.1 - 0.2)) == "-0.3"
    assert repr(exported(-0.0)) == "0.0"
    assert repr(exported(NAN)) == "nan"


@pytest.mark.parametrize(
    ("low", "high", "unit", "text"),
    [
        (47.0, 58.0, "degC", "47 to 58 °C"), (80.0, None, "%", "at least 80 %"),
        (None, 12.0, "g", "at most 12 g"), (-1.0, 8.0, "K", "−1 to 8 K"),
        (480.0, 600.0, "s", "8 to 10 min"), (90.0, None, "s", "at least 1 min 30 s"),
        (None, 3690.0, "s", "at most 1 h 1 min 30 s"), (None, None, "g", "no limit"),
        (5.0, 5.0, "degC", "5 °C"), (178.2, 181.8, "g", "178.2 to 181.8 g"),
    ],
)  # fmt: skip
def test_a_band_is_written_from_both_ends_or_from_one(low, high, unit, text):
    assert band_text(low, high, unit) == text


def test_on_a_screen_a_band_of_times_is_two_clocks():
    assert band_on_screen(480.0, 600.0, "s") == "8:00 to 10:00"
    assert band_on_screen(360.0, None, "s") == "at least 6:00"
    assert band_on_screen(6.2857, 6.4127, "oz", 2) == "6.29 to 6.41 oz"
    assert band_on_screen(None, None, "s") == ""


def test_money_has_two_decimals_and_its_currency():
    assert money_text(4.5, "EUR") == "4.50 EUR"
    assert money_text(-0.001, "EUR") == "0.00 EUR"
    assert price_text(14.2, "EUR") == "14.20 EUR/kg"


def test_a_count_is_written_in_digits_with_its_noun():
    assert [count_text(n, "piece") for n in (0, 1, 12)] == ["0 pieces", "1 piece", "12 pieces"]
    assert count_text(2, "batch", "batches") == "2 batches"


@pytest.mark.parametrize(
    ("share", "text"),
    [
        (0.98, "98 %"), (0.984, "98 %"), (0.0, "0 %"), (1.0, "100 %"), (0.004, "under 1 %"),
        (0.9951, "over 99 %"), (-0.02, "−2 %"), (None, "–"), (NAN, "–"), (1.31, "131 %"),
    ],
)  # fmt: skip
def test_a_percentage_has_no_false_digits_and_is_never_rounded_to_all_or_nothing(share, text):
    assert percent_text(share) == text


def test_a_clock_has_whole_seconds_and_so_has_its_uncertainty():
    assert spread_text(0.8, "s", on_clock=True) == "± 1 s"
    assert spread_text(0.2, "s", on_clock=True) == "± 1 s"
    assert spread_text(2.6, "s", on_clock=True) == "± 3 s"
    assert spread_text(0.8, "s") == "± 0.8 s"


def test_a_computed_limit_of_mass_has_four_digits_and_one_that_was_set_keeps_its_own():
    assert band_text(487.575, 497.425, "g") == "487.6 to 497.4 g"
    assert band_on_screen(487.575, 497.425, "g") == "487.6 to 497.4 g"
    assert band_on_screen(178.25, None, "g") == "at least 178.25 g"
    assert band_text(0.125, 4.21631, "g") == "0.125 to 4.216 g"

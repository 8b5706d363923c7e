"""Numbers as a person reads them, in either system of units."""

import numpy as np
import pytest
from dash import html

from dashboard.measures import Measures, in_units
from dashboard.stores import Choices

METRIC = Measures()
OTHER = Measures(temp="F", mass="oz")


@pytest.mark.parametrize(
    ("value", "unit", "metric", "other"),
    [
        (100.0, "degC", "100.0", "212.0"),  # boiling and ice point define both scales
        (0.0, "degC", "0.0", "32.0"),
        (-40.0, "degC", "−40.0", "−40.0"),
        (28.349523125, "g", "28.3", "1.00"),  # avoirdupois ounce, NIST Handbook 44, appendix C
        (5.0, "K", "5.0", "9.0"),
    ],
)
def test_values_convert_by_the_definitions_of_the_scales(value, unit, metric, other):
    assert METRIC.text(value, unit) == metric
    assert OTHER.text(value, unit) == other


def test_an_uncertainty_of_a_temperature_scales_and_does_not_shift():
    assert METRIC.spread(0.6, "degC") == "± 0.6"
    assert OTHER.spread(0.5, "degC") == "± 0.9"


def test_a_small_uncertainty_is_not_rounded_to_nothing():
    assert METRIC.spread(0.02, "g") == "± 0.02"


def test_a_number_with_uncertainty_and_unit_goes_to_the_place_of_its_uncertainty():
    assert METRIC.value(46.13, "degC", 0.04) == "46.13 ± 0.04 °C"
    assert OTHER.value(46.13, "degC", 0.5) == "115.0 ± 0.9 °F"
    assert METRIC.value(500.0, "s", 3.0) == "8:20 ± 3 s"
    assert METRIC.value(None, "g", 3.0) == "–"


def test_an_unknown_uncertainty_is_not_shown_as_zero():
    assert METRIC.spread(None, "degC") == ""
    assert METRIC.spread(float("nan"), "degC") == ""


def test_no_value_is_a_dash():
    assert METRIC.text(None, "degC") == "–"
    assert METRIC.text(float("nan"), "g") == "–"


def test_minus_zero_is_zero():
    assert METRIC.text(-0.002, "g") == "0.00"


def test_bands_are_words():
    assert METRIC.band(44.0, 58.0, "degC") == "44 to 58 °C"
    assert METRIC.band(360.0, None, "s") == "at least 6:00"
    assert METRIC.band(None, 24.0, "degC") == "at most 24 °C"
    assert METRIC.band(None, None, "degC") == ""
    assert OTHER.band(44.0, 58.0, "degC") == "111.2 to 136.4 °F"


@pytest.mark.parametrize(
    ("said", "other"),
    [
        ("46.1 ± 0.5 °C (target 44 to 58 °C).", "115.0 ± 0.9 °F (target 111.2 to 136.4 °F)."),
        ("Piece 3: 28.3 g. Next one", "Piece 3: 1.00 oz. Next one"),
        ("Pour at 50 °C, 2.5 K above −1.0 °C", "Pour at 122 °F, 4.5 F° above 30.2 °F"),
        ("between 0 and 100 °C; pieces 2 and 100 °C", "between 32 and 212 °F; pieces 2 and 212 °F"),
        ("56.7 g/min at 3.0 K/min", "2.0 oz/min at 5.4 F°/min"),
        *((same, same) for same in ("5 g/kg", "0:12 to 0:25 g", "lot 30 gr", "A4 g")),
    ],
)
def test_a_sentence_has_the_units_of_the_tile_beside_it(said, other):
    assert METRIC.said(said) == said
    assert OTHER.said(said) == other
    drawn = in_units(html.P(["now: ", html.B(said)], title=said), OTHER)
    assert (drawn.children[1].children, drawn.title) == (other, other)
    assert Measures(mass="oz").said("50 °C") == "50 °C"


def test_whole_arrays_convert_like_single_numbers():
    values = np.array([0.0, np.nan, 100.0])
    assert OTHER.number(values, "degC") == pytest.approx([32.0, np.nan, 212.0], nan_ok=True)


def test_choices_of_the_browser_that_are_not_known_fall_back():
    assert Choices.of({"temp": "R", "mass": 3}).measures == METRIC
    assert Choices.of(None).measures == METRIC

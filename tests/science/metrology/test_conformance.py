"""Verdicts with guard bands, against JCGM 106 and budgets worked by hand."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import ndtr

from logger.model.errors import InputError, OutOfRangeError
from logger.science.metrology.conformance import RULES, decide, guard_band

U_CORE = 0.4675


def conformance_probability(value: float, u: float, low: float, high: float = math.inf) -> float:
    """Probability that the true value is within the limits; normal law, no prior knowledge."""
    return float(ndtr((high - value) / u) - ndtr((low - value) / u))


def test_the_example_of_jcgm_106():
    """JCGM 106:2012, clause 7.4 example: y 13.6, u 1.8, limits 12.5 and 16.3 give 0.66."""
    assert conformance_probability(13.6, 1.8, low=12.5, high=16.3) == pytest.approx(
        0.6626, abs=5e-4
    )


@pytest.mark.parametrize(
    ("value", "wanted"), [(63.2, 0.6656), (63.5, 0.8576), (63.8, 0.9565), (64.1, 0.9907)]
)
def test_probability_above_a_lower_limit(value: float, wanted: float):
    """Normal law by hand, u = 0.4675, limit 63."""
    assert conformance_probability(value, U_CORE, low=63.0) == pytest.approx(wanted, abs=1e-4)


@pytest.mark.parametrize(
    ("rule", "edge"), [("simple", 63.0), ("guarded", 63.935), ("guarded 5 %", 63.769)]
)
def test_the_acceptance_limit_of_each_rule(rule: str, edge: float):
    """ILAC-G8:09/2019: AL = TL + w at a lower limit, w = 0, U, 1.645 u."""
    assert 63.0 + guard_band(U_CORE, rule) == pytest.approx(edge, abs=5e-4)
    assert decide(edge + 0.001, U_CORE, low=63.0, rule=rule) == "met"
    below = decide(edge - 0.001, U_CORE, low=63.0, rule=rule)
    assert below == ("not met" if rule == "simple" else "undecided")


def test_a_pass_at_the_edge_of_the_5_percent_rule_is_wrong_one_time_in_twenty():
    """JCGM 106:2012: specific risk 1 - p_c; 1.645 is rounded, which moves it by up to 5e-5."""
    edge = 63.0 + guard_band(0.5, "guarded 5 %")
    assert 1.0 - conformance_probability(edge, 0.5, low=63.0) == pytest.approx(0.05, abs=5e-5)


def test_a_value_beyond_the_limit_by_the_guard_band_is_not_met():
    assert decide(62.0, U_CORE, low=63.0) == "not met"
    assert decide(62.5, U_CORE, low=63.0) == "undecided"
    assert decide(5.1, 0.2, high=5.0) == "undecided"
    assert decide(5.5, 0.2, high=5.0) == "not met"
    assert decide(4.5, 0.2, high=5.0) == "met"


def test_without_a_stated_uncertainty_there_is_no_verdict_whatever_the_rule():
    for rule in RULES:
        assert decide(99.0, math.nan, low=63.0, rule=rule) == "undecided"
        assert decide(10.0, math.nan, low=63.0, rule=rule) == "undecided"


def test_without_a_value_nothing_is_measured():
    assert decide(None, 0.5, low=63.0) == "not measured"
    assert decide(math.nan, 0.5, low=63.0) == "not measured"
    assert decide(None, math.nan, low=63.0) == "not measured"


def test_a_band_narrower_than_its_guard_bands_can_never_be_met():
    assert decide(50.0, 1.0, low=49.0, high=51.0) == "undecided"


@given(
    st.floats(-50, 150), st.floats(0.001, 5), st.floats(0, 60), st.floats(0.1, 40),
    st.sampled_from(sorted(RULES)),
)  # fmt: skip
def test_a_verdict_of_met_never_carries_more_than_its_risk(
    value: float, u: float, low: float, width: float, rule: str
):
    """Risk of both limits together: at most double the one-sided one."""
    verdict = decide(value, u, low=low, high=low + width, rule=rule)
    probability = conformance_probability(value, u, low=low, high=low + width)
    risk = {"simple": 1.0, "guarded": 0.0456, "guarded 5 %": 0.1001}[rule]
    if verdict == "met":
        assert probability >= 1.0 - risk - 1e-9
    if verdict == "not met" and rule != "simple":
        assert probability <= 0.0501


def test_a_certain_value_is_decided_by_comparison():
    assert decide(4.9, 0.0, low=5.0) == "not met"
    assert decide(5.0, 0.0, low=5.0) == "met"


def test_what_cannot_be_decided_is_refused():
    with pytest.raises(InputError, match="low or a high"):
        decide(1.0, 0.1)
    with pytest.raises(InputError, match="low must not be above high"):
        decide(1.0, 0.1, low=2.0, high=1.0)
    with pytest.raises(InputError, match="decision rule"):
        decide(1.0, 0.1, low=0.0, rule="generous")
    with pytest.raises(OutOfRangeError):
        decide(1.0, -0.1, low=0.0)

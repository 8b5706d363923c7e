"""Densities of the bath's model integrate to one; what is usual costs nothing."""

import math

import numpy as np
import pytest

from logger.watch.stages.set.immersion import likelihood
from logger.watch.stages.set.immersion.likelihood import (
    ModelParameters,
    change_log_likelihood,
    dwell_log_likelihood_ratio,
    piece_mass_log_likelihood,
    rise_log_likelihood,
)

USUAL = ModelParameters(dwell_s=500.0, dwell_sd_s=20.0)


def integral(log_density, places):
    return float(np.trapezoid([math.exp(log_density(float(x))) for x in places], places))


def test_a_change_of_level_has_a_normal_density_and_a_wide_tail_of_a_few_percent():
    whole = integral(lambda x: change_log_likelihood(x, 0.7), np.linspace(-30, 30, 4001))
    assert whole == pytest.approx(1.0 + likelihood.TAIL_SHARE, abs=2e-3)
    assert math.exp(change_log_likelihood(0.0, 1.0)) == pytest.approx(0.3989, abs=0.005)
    off = [change_log_likelihood(x, 1.0) for x in (0.0, 1.0, 4.0, 10.0)]
    assert off == sorted(off, reverse=True)
    assert off[3] > -0.5 * 10.0**2 + 20.0, "a slip of a few grams is unlikely and not impossible"
    assert change_log_likelihood(-4.0, 1.0) == change_log_likelihood(4.0, 1.0)


def test_a_dwell_is_compared_with_a_uniform_one_over_three_usual_dwells():
    """The ratio times that uniform density is a density."""
    whole = integral(
        lambda s: dwell_log_likelihood_ratio(s, USUAL) - math.log(3 * 500.0),
        np.linspace(0.0, 1500.0, 4001),
    )
    assert whole == pytest.approx(1.0, abs=1e-3)
    forgotten = dwell_log_likelihood_ratio(1400.0, USUAL)
    assert math.exp(forgotten) == pytest.approx(0.1), "a tenth stays uniform"
    assert dwell_log_likelihood_ratio(100.0, USUAL) == pytest.approx(forgotten)
    assert dwell_log_likelihood_ratio(500.0, USUAL) > 3.0
    assert dwell_log_likelihood_ratio(500.0, USUAL.without_dwell()) == 0.0


def test_a_piece_nobody_weighed_has_a_log_normal_mass_up_to_a_heaviest():
    whole = integral(
        lambda g: piece_mass_log_likelihood(g, ModelParameters()), np.linspace(0.01, 399.9, 8000)
    )
    assert 0.99 < whole < 1.03
    for mass_g in (0.0, -5.0):
        assert piece_mass_log_likelihood(mass_g, ModelParameters()) == likelihood.IMPOSSIBLE
    narrow = ModelParameters(piece_log_sd=0.1)
    odd = [piece_mass_log_likelihood(g, narrow) for g in (5.0, 200.0, 399.0)]
    assert odd[0] == odd[1] == odd[2] > piece_mass_log_likelihood(401.0, narrow) + 50.0
    assert math.exp(odd[0]) * 400.0 == pytest.approx(0.02), "one in fifty is any mass"


def test_what_a_piece_usually_takes_costs_nothing_and_a_slow_hand_not_everything():
    """Usual are 2 s of rise and 2.6 s of span; some lower a piece over 8 s."""
    assert rise_log_likelihood(2.0, 2.6, poured=False) == 0.0
    assert rise_log_likelihood(2.1, 2.6, poured=False) < 0.0
    assert rise_log_likelihood(2.0, 2.7, poured=False) < 0.0
    slow = [rise_log_likelihood(s, s, poured=False) for s in (3.0, 4.0, 5.0, 8.0, 30.0)]
    assert slow[0] > slow[1] > slow[2] > slow[3] == slow[4]
    by_rise = rise_log_likelihood(30.0, 0.0, poured=False)
    by_span = rise_log_likelihood(0.0, 30.0, poured=False)
    assert slow[4] == pytest.approx(by_rise + by_span)
    assert by_rise < by_span, "the rise tells more than the span"
    assert slow[4] > -5.0, "a slow hand must not turn a piece into a pour"


def test_only_what_comes_quickly_and_in_a_short_span_is_hardly_poured():
    assert rise_log_likelihood(1.19, 2.59, poured=True) < -1.0
    assert rise_log_likelihood(1.2, 2.59, poured=True) == 0.0
    assert rise_log_likelihood(1.19, 2.6, poured=True) == 0.0
    assert rise_log_likelihood(9.0, 9.0, poured=True) == 0.0


def test_log_priors_are_of_probabilities_and_what_hands_do_seldom_is_less_likely():
    for name, value in vars(likelihood).items():
        if name.startswith(("LOG_PRIOR", "LOG_PENALTY", "IMPOSSIBLE")):
            assert value < 0.0, name
    often = (likelihood.LOG_PRIOR_IN, likelihood.LOG_PRIOR_OUT)
    seldom = (likelihood.LOG_PRIOR_TOUCH, likelihood.LOG_PRIOR_OTHER, likelihood.LOG_PRIOR_REDIP)
    hardly = (
        likelihood.LOG_PRIOR_TWO_AT_ONCE,
        likelihood.LOG_PRIOR_IN_AT_START,
        likelihood.LOG_PRIOR_TARE,
        likelihood.LOG_PRIOR_WEIGHED_WRONGLY,
    )
    assert min(often) > max(seldom)
    assert min(seldom) > max(hardly)
    assert likelihood.LOG_PRIOR_IN == likelihood.LOG_PRIOR_OUT, "what goes in comes out"
    assert sum(map(math.exp, (*often, *seldom, *hardly))) == pytest.approx(1.0, abs=0.15)

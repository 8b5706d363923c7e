"""The virtual probe against its closed form."""

import math

import pytest

from logger.virtual.bodies.probe import Probe


def test_a_probe_lags_by_its_time_constant_and_rounds():
    probe = Probe(lag_s=5.0, noise_k=0.0, step_k=0.0)
    probe.read(20.0, 1.0)
    assert probe.read(60.0, 5.0) == pytest.approx(60.0 - 40.0 * math.exp(-1.0))
    assert Probe(noise_k=0.0, step_k=0.25).read(20.13, 1.0) == pytest.approx(20.25)

"""Moments of a row, and whether what came out can be what went in."""

import pytest

from logger.watch.stages.set.immersion.ends import End, odd_masses


@pytest.mark.parametrize(
    ("in_g", "out_g", "odd"),
    [(70.0, -71.5, False), (70.0, -76.0, False), (70.0, -55.0, True), (150.0, -65.0, True)],
)
def test_a_row_whose_masses_do_not_add_up_is_doubted(in_g, out_g, odd):
    assert odd_masses(End(20.0, None, in_g), End(200.0, None, out_g)) == odd


def test_masses_that_a_gap_mixes_with_others_say_nothing():
    assert not odd_masses(End(20.0, None, None), End(200.0, None, -55.0))
    assert not odd_masses(None, End(200.0, None, -55.0))

"""Moments of a row, and whether what came out can be what went in."""

import pytest

from logger.watch.stages.set.immersion.ends import End, odd_masses, widened
from logger.watch.stages.set.segment import Segment


@pytest.mark.parametrize(
    ("in_g", "out_g", "odd"),
    [(70.0, -71.5, False), (70.0, -76.0, False), (70.0, -55.0, True), (150.0, -65.0, True)],
)
def test_a_row_whose_masses_do_not_add_up_is_doubted(in_g, out_g, odd):
    assert odd_masses(End(20.0, None, in_g), End(200.0, None, out_g)) == odd


def test_masses_that_a_gap_mixes_with_others_say_nothing():
    assert not odd_masses(End(20.0, None, None), End(200.0, None, -55.0))
    assert not odd_masses(None, End(200.0, None, -55.0))


@pytest.mark.parametrize(
    ("other_s", "between_s"), [(184.0, (180.0, 184.0)), (181.0, None), (200.0, None)]
)
def test_another_moment_close_by_makes_an_end_an_interval(other_s, between_s):
    """Not one hardly apart, and not one so far that it is another act."""
    edges = [
        Segment(
            start_s=s, end_s=s, initial_g=0, start_g=0, end_g=0, u_start_g=0, u_end_g=0, edge_s=s
        )
        for s in (0.0, 180.0, other_s)
    ]
    found = widened(End(180.0, None, -70.0), [1, 2], edges)
    assert found.between_s == between_s
    assert found.change_g == -70.0

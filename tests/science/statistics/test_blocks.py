"""Block means depend on the readings alone."""

import math

import pytest

from logger.model.errors import OutOfRangeError
from logger.science.statistics.blocks import BlockMeans


def closed(readings, length_s=5.0):
    means = BlockMeans(length_s)
    return [b for b in (means.add(t, v) for t, v in readings) if b is not None]


def test_a_block_closes_when_the_next_begins_and_holds_the_mean():
    (block,) = closed([(0.0, 1.0), (1.0, 2.0), (4.9, 6.0), (5.0, 9.0)])
    assert (block.mean, block.count) == (3.0, 3)
    assert block.mid_s == pytest.approx(5.9 / 3)


def test_blocks_lie_on_a_fixed_grid_whenever_the_stream_begins():
    late = closed([(t, t) for t in range(3, 30)])
    early = closed([(t, t) for t in range(30)])
    assert late[1:] == early[1:]


def test_a_gap_makes_no_block_and_nan_is_left_out():
    blocks = closed([(0.0, 1.0), (1.0, math.nan), (21.0, 3.0), (27.0, 4.0)])
    assert [(b.mean, b.count) for b in blocks] == [(1.0, 1), (3.0, 1)]


def test_a_length_of_nothing_is_refused():
    with pytest.raises(OutOfRangeError):
        BlockMeans(0.0)

"""Readings gathered into block means on a fixed grid of time.

Pure streaming object. Blocks begin at whole multiples of their length, so a mean depends on the
readings alone and never on how the stream was cut. Used by the forecast and by the arrest
detector, which both think in blocks of 5 s.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from logger.model.errors import OutOfRangeError

BLOCK_S = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Mean of the readings within one block.

    Attributes
    ----------
    mid_s : float
        Mean time of the readings [s].
    mean : float
        Mean of their values, in the unit of the channel.
    count : int
        How many readings it holds.
    """

    mid_s: float
    mean: float
    count: int


class BlockMeans:
    """Gather readings; each closed block comes out once.

    Parameters
    ----------
    length_s : float
        Length of a block [s], above 0.
    """

    def __init__(self, length_s: float = BLOCK_S) -> None:
        if not length_s > 0.0:
            raise OutOfRangeError("block length [s]", length_s, "a number above 0")
        self._length_s = length_s
        self._index: int | None = None
        self._first_s = 0.0
        self._sum_t = 0.0
        self._sum_v = 0.0
        self._count = 0

    def add(self, time_s: float, value: float) -> Block | None:
        """Take one reading; give the block it closed, or None for *need more*.

        Parameters
        ----------
        time_s : float
            Time of the reading [s]; not before the reading before it.
        value : float
            Its value, in any one unit; NaN is skipped.
        """
        index = math.floor(time_s / self._length_s)
        closed = None
        if self._index is not None and index != self._index:
            closed = self._close()
        if math.isfinite(value):
            if self._count == 0:
                self._index, self._first_s = index, time_s
            # Times are summed from the block's first one, so that long runs lose no digits.
            self._sum_t += time_s - self._first_s
            self._sum_v += value
            self._count += 1
        return closed

    def reset(self) -> None:
        """Forget the open block, for example at the start of a new phase."""
        self._index, self._count, self._sum_t, self._sum_v = None, 0, 0.0, 0.0

    def _close(self) -> Block | None:
        block = None
        if self._count:
            block = Block(
                mid_s=self._first_s + self._sum_t / self._count,
                mean=self._sum_v / self._count,
                count=self._count,
            )
        self.reset()
        return block

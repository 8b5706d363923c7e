"""An accepted tare counts for later readings of its channel, up to the next one."""

import numpy as np

from logger.correct.tares import counted_in_g
from logger.model.rows import TareRow


def test_a_tare_counts_after_it_was_accepted_until_the_next_and_for_its_channel_alone():
    rows = [TareRow(channel="bath", from_s=1.0, offset_g=50.0),
            TareRow(channel="bowl", from_s=0.0, offset_g=7.0),
            TareRow(channel="bath", from_s=3.0, offset_g=-20.0)]  # fmt: skip
    t_ns = np.array([0, 1_000_000_000, 1_000_000_001, 3_000_000_000, 3_000_000_001])
    assert counted_in_g(rows, "bath", t_ns).tolist() == [0.0, 0.0, 50.0, 50.0, -20.0]
    assert counted_in_g(rows, "room", t_ns).tolist() == [0.0] * 5

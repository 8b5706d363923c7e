"""A time left is a range in words, also where the limit may never be reached."""

import math

import pytest

from logger.science.heat.timeleft import TimeLeft
from logger.watch.stages.cooling.forecast import left_text


@pytest.mark.parametrize(
    ("early_s", "likely_s", "late_s", "says"),
    [
        (360.0, 420.0, 530.0, "The fat may set in 6 to 9 min (below 25 °C)."),
        (360.0, 420.0, math.inf, "may set in 6 min at the earliest, or not at all (below 25 °C)"),
        (
            360.0,
            math.inf,
            math.inf,
            "may set in 6 min at the earliest, or not at all (below 25 °C)",
        ),
        (
            math.inf,
            math.inf,
            math.inf,
            "is not likely to cool to its setting limit of 25 °C.",
        ),
        (0.0, 0.0, 60.0, "The fat is at its setting limit of 25 °C."),
    ],
)
def test_a_time_left_is_said_also_where_it_has_no_end(early_s, likely_s, late_s, says):
    left = TimeLeft(early_s=early_s, likely_s=likely_s, late_s=late_s)
    assert says in left_text("The fat", left, "25 °C")

"""A trace as it was judged and as the screen showed it."""

import numpy as np

from logger.model.reading import Flag
from logger.review.trace import UNJUDGED, Trace


def trace(*flags):
    count = len(flags)
    return Trace(
        np.arange(count), np.arange(float(count)), np.full(count, 0.1),
        np.array([int(f) for f in flags], dtype=np.int32),
    )  # fmt: skip


def test_late_and_untrusted_readings_are_not_shown_and_those_out_of_range_have_no_value():
    seen = trace(0, Flag.LATE, Flag.UNTRUSTED, Flag.OUT_OF_RANGE, Flag.STABLE).as_live()
    assert seen.t_ns.tolist() == [0, 3, 4]
    assert np.isnan(seen.value).tolist() == [False, True, False]


def test_what_is_not_shown_is_not_judged_either():
    for flag in (Flag.LATE, Flag.UNTRUSTED, Flag.OUT_OF_RANGE):
        assert UNJUDGED & flag
    assert not UNJUDGED & Flag.STABLE

"""What goes into a blob comes out of it, bit for bit."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from logger.store.blocks.codec import Columns, decode, decode_chunks, encode, encode_chunks
from logger.store.blocks.packing import decimals_of, pack_ints, unpack_ints
from logger.store.blocks.pyramid import (
    bins_of,
    decode_bins,
    decode_coarse,
    encode_bins,
    encode_coarse,
)

ints = hnp.arrays(
    np.int64, st.integers(1, 200), elements=st.integers(-(2**62), 2**62) | st.integers(-300, 300)
)
# "No value" has one form: nan without a payload.
floats = st.floats(allow_infinity=False, allow_nan=False).map(lambda v: v + 0.0) | st.just(
    float("nan")
)
decimals = st.decimals(-3000, 3000, places=2).map(float).map(lambda v: v + 0.0)
column = st.one_of(
    st.lists(decimals | st.just(float("nan")), min_size=1, max_size=150),
    st.lists(floats, min_size=1, max_size=150),
).map(lambda v: np.array(v, dtype=np.float64))


@st.composite
def columns(draw: st.DrawFn) -> Columns:
    value = draw(column)
    count = len(value)
    whole = hnp.arrays(np.int64, count, elements=st.integers(-(2**50), 2**50))
    cold = draw(st.none() | hnp.arrays(np.float64, count, elements=st.floats(-50, 100)))
    if cold is not None:
        cold = cold + 0.0
    flags = draw(hnp.arrays(np.int64, count, elements=st.integers(0, 1023)))
    return Columns(draw(whole), value, flags, cold)


@given(ints)
def test_whole_numbers_come_back(values):
    assert unpack_ints(pack_ints(values), len(values)).tolist() == values.tolist()


@given(columns())
def test_readings_come_back_bit_for_bit(given_columns):
    found = decode(encode(given_columns))
    assert found.t_us.tolist() == given_columns.t_us.tolist()
    assert found.value.tobytes() == given_columns.value.tobytes()
    assert found.flags.tolist() == given_columns.flags.tolist()
    cold = given_columns.cold_junction
    assert (found.cold_junction is None) == (cold is None)
    if cold is not None and found.cold_junction is not None:
        assert found.cold_junction.tobytes() == cold.tobytes()


@given(columns(), st.sampled_from([1, 16, 256]))
def test_both_forms_of_a_pyramid_level_say_what_the_readings_say(given_columns, size):
    wanted = bins_of(given_columns, size)
    count = len(given_columns.t_us)
    fine = decode_bins(encode_bins(given_columns, size), size, count)
    for found in (fine, decode_coarse([encode_coarse(given_columns, size)], [count], size)):
        for name in ("t_us", "n", "n_bad", "low", "high"):
            assert np.array_equal(
                getattr(found, name), getattr(wanted, name), equal_nan=name in ("low", "high")
            )
        assert np.isnan(found.mean).tolist() == np.isnan(wanted.mean).tolist()
        known = ~np.isnan(found.mean)
        assert np.allclose(found.mean[known], wanted.mean[known], rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize(
    ("values", "places"),
    [
        ([1.0, 2.0], 0),
        ([21.5, 22.25], 2),
        ([0.1 + 0.2], None),
        ([1 / 3], None),
        ([1e-6], 6),
        ([1e-7], None),
        ([3e9], None),
        ([0.0078125], None),
        ([0.0625], 4),
    ],
)
def test_decimals_are_seen_only_where_they_give_the_float_back(values, places):
    assert decimals_of(np.array(values)) == places


@given(
    st.lists(
        st.tuples(
            st.integers(0, 5), st.integers(-(10**15), 10**15), st.integers(0, 2),
            st.binary(max_size=40),
        ),
        min_size=1,
        max_size=60,
    )
)  # fmt: skip
def test_raw_chunks_come_back_in_their_order(rows):
    assert decode_chunks(encode_chunks(rows)) == rows


def test_a_smooth_decimal_trace_takes_little():
    """Noise of two counts and 5 ms of jitter: some 3 bytes a reading with its time."""
    random = np.random.default_rng(1)
    at = np.arange(4096)
    t_us = at * 100_000 + random.normal(0, 4700, 4096).astype(np.int64)
    value = np.round(45 + np.sin(at / 500) + random.normal(0, 0.02, 4096), 2)
    blob = encode(Columns(t_us, value, np.zeros(4096, dtype=np.int64)))
    assert len(blob) < 3.2 * 4096

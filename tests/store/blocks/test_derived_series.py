"""A series kept beside the readings: back bit for bit, short, and damage is told."""

import base64
import json

import numpy as np
import pytest

from logger.store.blocks.codec import packed, unpacked


def trace(n=36_000):
    """An hour at 10 Hz: a cooling phase with gaps and noise, to hundredths."""
    t_s = np.arange(n) / 10.0
    noise = np.random.default_rng(3).normal(0.0, 0.02, n)
    value = np.round(21.0 + 30.0 * np.exp(-t_s / 1500.0) + noise, 2)
    value[1000:1200] = np.nan
    return value


def test_a_series_comes_back_bit_for_bit_and_is_short_enough_for_the_results():
    value = trace()
    row = json.loads(json.dumps({"readings": value.size, "block": packed(value)}))
    assert np.array_equal(unpacked(row["block"], row["readings"]), value, equal_nan=True)
    assert len(row["block"]) < 2 * value.size


@pytest.mark.parametrize("value", [[np.nan, np.nan], [1e-3], [-0.01, 1e9, 0.1 + 0.2]])
def test_odd_series_come_back_too(value):
    value = np.array(value)
    row = {"readings": value.size, "block": packed(value)}
    assert np.array_equal(unpacked(row["block"], row["readings"]), value, equal_nan=True)


def test_damage_is_told_never_read_as_another_number():
    value = trace(500)
    data = bytearray(base64.b64decode(packed(value)))
    for place in (4, 12, len(data) // 2, len(data) - 1):
        bad = bytearray(data)
        bad[place] ^= 0x10
        with pytest.raises(ValueError, match="check sum"):
            unpacked(base64.b64encode(bad).decode(), value.size)
    with pytest.raises(ValueError, match="does not read"):
        unpacked("no base64 at all?", 500)
    with pytest.raises(ValueError, match="500 values, not 499"):
        unpacked(packed(value), 499)

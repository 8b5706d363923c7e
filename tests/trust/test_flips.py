"""A flipped bit anywhere in a run file is named, harmless or refused; never a wrong value."""

import collections

import pytest

from tests.trust.flips import KINDS, WRONG, flips, made

FLIPS = 16
"""In each file; ``python -m tests.trust.flips 2000`` takes more."""


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    return made(tmp_path_factory.mktemp("flips"))


@pytest.mark.parametrize("name", ["live, with its log", "live, log folded in", "ended"])
def test_no_flipped_bit_is_read_as_a_value(files, name):
    found = list(flips(files[name], name, FLIPS, seed=20))
    assert [flip for flip in found if flip.kind in WRONG] == []
    counted = collections.Counter(flip.kind for flip in found)
    assert set(counted) <= set(KINDS)
    assert counted["named"] >= FLIPS // 4

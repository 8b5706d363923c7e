"""A flipped bit anywhere in a run file is named, harmless or refused; never a wrong value."""

import collections
import contextlib
import itertools

import pytest

from logger.model.errors import BainlogError
from logger.store.run.runfile import RunView
from tests.trust.flips import KINDS, WRONG, flips, made

FLIPS = 16
"""In each file; ``python -m tests.trust.flips 2000`` takes more."""
LEAF = 13
"""First byte of a leaf page of a table."""


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


def test_a_page_with_a_wrong_number_of_rows_hides_no_raw_bytes(files, tmp_path):
    """The low byte of the count of each leaf page of a table (SQLite file format, section 1.6)."""
    whole = files["ended"][0].read_bytes()
    page = int.from_bytes(whole[16:18], "big")
    leaves = [at for at in range(page, len(whole), page) if whole[at] == LEAF]
    before = list(RunView(files["ended"][0]).chunks())
    path = tmp_path / files["ended"][0].name
    for at, bit in itertools.product(leaves, range(8)):
        path.write_bytes(whole[: at + 4] + bytes([whole[at + 4] ^ 1 << bit]) + whole[at + 5 :])
        with contextlib.suppress(BainlogError):
            view = RunView(path, tolerant=True)
            assert list(view.chunks()) == before or view.damage()
    assert len(leaves) > 10

"""A scale on a pseudo-terminal and the files of its bench."""

import pytest

from tests.faults.scale import table


@pytest.fixture
def at(tmp_path):
    with table(tmp_path) as found:
        yield found

"""Half a character (a lone surrogate) in a command: no file can keep it, so it is refused."""

import pytest

from logger.control.messages import decode
from logger.model.errors import InputError


@pytest.mark.parametrize(
    "data", ['{"text": "\\ud800"}', '{"defects": ["a\\udfff"]}', '{"\\ud83d": 1}']
)
def test_half_a_character_anywhere_is_refused(data):
    """It would otherwise be met at the commit and take a tenth of a second of readings along."""
    with pytest.raises(InputError, match="half a character"):
        decode(f'{{"token": "t", "do": "note", "data": {data}}}'.encode())


def test_a_whole_character_outside_the_first_plane_is_taken():
    assert decode(b'{"do": "\\ud83c\\udf72"}') == {"do": "\U0001f372"}

"""Series worked out when a run ended, kept beside its readings: to text for the results, and back.

Pure. A series is one value a reading, in the order in which `RunView.readings` gives them; packed
as the values of a block are (``codec``), with a check sum, and written as base64 because results
are JSON. A file without them is whole.
"""

import base64
import binascii

import numpy as np
from numpy.typing import NDArray

from logger.store.blocks.codec import decode_values, encode_values

WITHOUT_LAG = "without lag"


def packed(values: NDArray[np.float64]) -> str:
    """Return a series as text.

    Parameters
    ----------
    values : ndarray
        At least one, in any one unit; shape (n,); NaN for none.
    """
    return base64.b64encode(encode_values(values)).decode("ascii")


def unpacked(block: str, readings: int) -> NDArray[np.float64]:
    """Return a series of so many readings from its text; shape (n,).

    Raises
    ------
    ValueError
        If it is damaged.
    """
    try:
        values = decode_values(base64.b64decode(block, validate=True))
    except binascii.Error as cause:
        raise ValueError("a derived series does not read") from cause
    if values.size != readings:
        raise ValueError(f"a derived series has {values.size} values, not {readings}")
    return values

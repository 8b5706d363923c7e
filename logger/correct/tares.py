"""What accepted tares add to the readings of a scale: for one value on the screen and for a trace.

Pure; rows of the results or of the state in. The engine adds the same to what it judges.
"""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from logger.model.rows import TareRow


def counted_in_g(
    tares: Iterable[TareRow], channel_id: str, t_ns: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Return what accepted tares add to the readings of a channel.

    Parameters
    ----------
    tares : iterable of TareRow
        In time order; each counts for readings later than it was accepted.
    channel_id : str
        Channel id.
    t_ns : ndarray of int, shape (n,)
        Times of the readings on the run's axis [ns].

    Returns
    -------
    ndarray, shape (n,)
        [g]; zeros for a channel without a tare.
    """
    added = np.zeros(t_ns.size)
    for row in tares:
        if row.channel == channel_id:
            added[t_ns > round(row.from_s * 1e9)] = row.offset_g
    return added

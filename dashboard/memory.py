"""Memory that was freed goes back to the system.

The C library of Linux keeps what its threads have freed, in pieces, and raises by itself the size
from which on it does not: a server that copies long traces seems to grow for hours.
"""

import ctypes
import sys

M_MMAP_THRESHOLD, M_ARENA_MAX = -3, -8
"""Names of mallopt(3), glibc."""
LARGE_BYTES = 128 * 1024


def give_back() -> bool:
    """Keep large pieces out of the heap, and the heap in one; return whether that could be said.

    Call it before threads are started. Where the C library is another one nothing is changed.
    """
    if not sys.platform.startswith("linux"):
        return False
    mallopt = getattr(ctypes.CDLL(None), "mallopt", None)
    if mallopt is None:
        return False
    return bool(mallopt(M_MMAP_THRESHOLD, LARGE_BYTES)) and bool(mallopt(M_ARENA_MAX, 1))

"""The setting bath: dwells of pieces, skin set through, calcium left.

Pure; used by logger.watch.kinds.
"""

from logger.watch.contract import Context
from logger.watch.plain import Plain


class SetBath(Plain):
    """Keeps time."""


def make(context: Context) -> SetBath:
    """Return the watcher of the stage of `context`."""
    return SetBath(context)

"""Rinsing: how long each piece was in.

Pure; used by logger.watch.kinds.
"""

from logger.watch.contract import Context
from logger.watch.plain import Plain


class Rinse(Plain):
    """Keeps time."""


def make(context: Context) -> Rinse:
    """Return the watcher of the stage of `context`."""
    return Rinse(context)

"""Drying: mass lost, its rate, and whether the surface film is gone.

Pure; used by logger.watch.kinds.
"""

from logger.watch.contract import Context
from logger.watch.plain import Plain


class Dry(Plain):
    """Keeps time."""


def make(context: Context) -> Dry:
    """Return the watcher of the stage of `context`."""
    return Dry(context)

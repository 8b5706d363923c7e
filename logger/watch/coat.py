"""Coating: coat mass and thickness of each piece, and the dwell it will need.

Pure; used by logger.watch.kinds.
"""

from logger.watch.contract import Context
from logger.watch.plain import Plain


class Coat(Plain):
    """Keeps time."""


def make(context: Context) -> Coat:
    """Return the watcher of the stage of `context`."""
    return Coat(context)

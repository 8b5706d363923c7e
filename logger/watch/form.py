"""Forming: each piece is weighed and registered.

Pure; used by logger.watch.kinds.
"""

from logger.watch.contract import Context
from logger.watch.plain import Plain


class Form(Plain):
    """Keeps time."""


def make(context: Context) -> Form:
    """Return the watcher of the stage of `context`."""
    return Form(context)

"""Several ports into one stream in time order, the same live as on replay.

Pure. Ports deliver slightly out of order, so the recorder lets items wait here a moment (0.3 s of
run time) before it releases them to logger.watch.engine.engine. What comes after its time was
released is kept, but a reading is flagged late and not judged; an event is moved up to where the
engine stands and says when it was stamped.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from logger.model.event import Event
from logger.model.reading import Flag, Reading

Item = Reading | Event


class Merger:
    """The waiting room in front of the engine."""

    def __init__(self) -> None:
        self._waiting: list[Item] = []
        self._released_ns: int | None = None

    @property
    def released_ns(self) -> int | None:
        """Time up to which items were released [ns]; None before the first release."""
        return self._released_ns

    @property
    def waiting(self) -> Sequence[Item]:
        """What was not released yet, in order of arrival."""
        return self._waiting

    def add(self, items: Iterable[Item]) -> list[Item]:
        """Take new items.

        Parameters
        ----------
        items : iterable of Reading or Event
            In order of arrival.

        Returns
        -------
        list of Reading or Event
            The items as they stand and are to be stored: late readings flagged, late events moved.
        """
        standing = [self._as_it_stands(item) for item in items]
        self._waiting += standing
        return standing

    def release(self, up_to_ns: int) -> list[Item]:
        """Return all waiting items up to a time.

        Parameters
        ----------
        up_to_ns : int
            The watermark [ns], included; it never goes back.

        Returns
        -------
        list of Reading or Event
            In order of time, events before readings, readings by channel; events of one time in
            order of arrival.
        """
        if self._released_ns is not None and up_to_ns < self._released_ns:
            return []
        self._released_ns = up_to_ns
        out = [item for item in self._waiting if item.t_ns <= up_to_ns]
        if len(out) == len(self._waiting):
            self._waiting = []
        else:
            self._waiting = [item for item in self._waiting if item.t_ns > up_to_ns]
        out.sort(key=order)
        return out

    def _as_it_stands(self, item: Item) -> Item:
        released_ns = self._released_ns
        if released_ns is None or item.t_ns > released_ns:
            return item
        if isinstance(item, Reading):
            return item._replace(flags=item.flags | Flag.LATE)
        return replace(item, t_ns=released_ns + 1, data={**item.data, "stamped_ns": item.t_ns})


def order(item: Item) -> tuple[int, int, str]:
    """Sort key of the stream; the sort must be stable."""
    if isinstance(item, Reading):
        return item.t_ns, 1, item.channel
    return item.t_ns, 0, ""

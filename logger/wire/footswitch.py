"""States of a foot switch's contact to marks: bounces do not count, a hold takes back.

Pure state machine; the port thread tells it the contact at 100 Hz. The mark is given at the first
edge, with its time, so that the foot is heard at once; when the foot stays down, that mark and the
one before it are taken back.
"""

from typing import Literal, NamedTuple

IGNORE_NS = 50_000_000
"""After the first edge nothing counts for so long: the contact bounces."""
RELEASE_NS = 150_000_000
"""The contact must be open for so long before another mark."""
HOLD_NS = 1_500_000_000
"""A foot that stays down for longer takes back the last mark."""


class Step(NamedTuple):
    """What the foot said."""

    kind: Literal["foot_mark", "foot_undo"]
    t_ns: int
    text: str


class Debounce:
    """One contact.

    Parameters
    ----------
    speed : float
        How many run seconds pass in a real one: feet do not run faster on a virtual bench.
    """

    def __init__(self, speed: float = 1.0) -> None:
        self._ignore_ns = round(IGNORE_NS * speed)
        self._release_ns = round(RELEASE_NS * speed)
        self._hold_ns = round(HOLD_NS * speed)
        self._pressed_ns: int | None = None
        self._opened_ns: int | None = None
        self._told_hold = False
        self._seen_open = False

    def feed(self, closed: bool, t_ns: int) -> list[Step]:
        """Tell the contact's state at a time.

        Parameters
        ----------
        closed : bool
            True while the foot is down.
        t_ns : int
            On the run's axis [ns]; never goes back.
        """
        if self._pressed_ns is None:
            self._seen_open |= not closed
            if not closed or not self._seen_open:
                return []  # closed from the start is a wrong polarity, not a foot
            self._pressed_ns, self._opened_ns, self._told_hold = t_ns, None, False
            return [Step("foot_mark", t_ns, "foot switch")]
        if t_ns - self._pressed_ns < self._ignore_ns:
            return []
        if not closed:
            if self._opened_ns is None:
                self._opened_ns = t_ns
            elif t_ns - self._opened_ns >= self._release_ns:
                self._pressed_ns = None
            return []
        if self._opened_ns is not None:
            if t_ns - self._opened_ns >= self._release_ns:
                self._pressed_ns = None
                return self.feed(closed, t_ns)
            self._opened_ns = None
        if not self._told_hold and t_ns - self._pressed_ns > self._hold_ns:
            self._told_hold = True
            return [
                Step("foot_undo", t_ns, "foot switch held: this press does not count"),
                Step(
                    "foot_undo", t_ns + 1000, "foot switch held: the mark before it is taken back"
                ),
            ]
        return []


class ByteMarks:
    """A small board that sends one byte a step; one within 150 ms of the last is a bounce."""

    def __init__(self, byte: str, speed: float = 1.0) -> None:
        self._byte = byte.encode("latin-1")
        self._apart_ns = round(RELEASE_NS * speed)
        self._last_ns: int | None = None

    def feed(self, chunk: bytes, t_ns: int) -> list[Step]:
        """Return the marks in a chunk that came at a time."""
        if self._byte not in chunk:
            return []
        bounce = self._last_ns is not None and t_ns - self._last_ns < self._apart_ns
        self._last_ns = t_ns
        return [] if bounce else [Step("foot_mark", t_ns, "foot switch")]

"""Taking back the last thing an operator did, as if it had not been done.

Pure; used by logger.watch.engine.engine and then. Before each act that can be taken back the
engine's whole state is copied; taking it back restores the copy and feeds everything since again,
without the act. Where detectors watch the bench a copy is also kept every few minutes, so that a
stage can begin at an earlier time.
"""

import copy
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar

from pydantic import BaseModel

from logger.model.event import Event
from logger.model.history import pinned, stamp_ns
from logger.model.reading import Reading

KEPT = 12
"""Acts that can be taken back at once: the last ten, and what may come meanwhile."""
OLDEST_NS = 600_000_000_000
"""Age at which an act can no longer be taken back at once [ns]; an older one takes working out the
run again."""
SURE_NS = 590_000_000_000
"""Age up to which it surely can [ns]: a command waits a moment before the engine sees it."""
BASE_EVERY_NS = 200_000_000_000
"""A copy is kept this often where detectors watch the bench [ns]."""

Scene = TypeVar("Scene")


@dataclass(slots=True, kw_only=True)
class Point(Generic[Scene]):
    """The state before one act.

    Attributes
    ----------
    scene
        Copy of the engine's state.
    at : int
        Count of items ever kept before the act.
    t_ns : int
        Time of the act [ns].
    act : Event or None
        The operator's event; None where the sheet's rule ended a stage, and for a base.
    key : str
        What names the end of a stage by the sheet's rule.
    base : bool
        Kept for the time alone: nothing was done.
    """

    scene: Scene
    at: int
    t_ns: int
    act: Event | None
    key: str = ""
    base: bool = False


@dataclass(slots=True, kw_only=True)
class Past(Generic[Scene]):
    """The points that can be returned to, and everything fed since the oldest."""

    points: list[Point[Scene]] = field(default_factory=list)
    items: list[Reading | Event] = field(default_factory=list)
    said: list[Event] = field(default_factory=list)
    first: int = 0
    """Count of items ever kept before ``items[0]``."""
    too_old: bool = False
    """True once a point was dropped for its age."""

    def add(self, point_scene: Scene, t_ns: int, act: Event | None, key: str = "") -> None:
        """Keep the state before an act; the item of the act itself is kept after it.

        Parameters
        ----------
        point_scene : Scene
            The state before the act.
        t_ns : int
            Time on the run's axis [ns].
        act : Event or None
            What the operator did; None where a rule of the sheet acted.
        key : str
            Of the proposal behind it; empty without one.
        """
        at = self.first + len(self.items)
        self.points.append(Point(scene=point_scene, at=at, t_ns=t_ns, act=act, key=key))
        acts = [place for place, point in enumerate(self.points) if not point.base]
        if len(acts) > KEPT:
            del self.points[acts[0]]
        self._trim()

    def add_base(self, scene: Scene, t_ns: int) -> None:
        """Keep the state at a time at which nothing was done.

        Parameters
        ----------
        scene : Scene
            The state.
        t_ns : int
            Time on the run's axis [ns].
        """
        at = self.first + len(self.items)
        self.points.append(Point(scene=scene, at=at, t_ns=t_ns, act=None, base=True))

    def forget(self, now_ns: int) -> list[str]:
        """Drop points that are too old; returns the keys of those that had one."""
        gone = []
        while self.points and now_ns - self.points[0].t_ns > OLDEST_NS:
            self.too_old = self.too_old or self.points[0].act is not None
            gone.append(self.points[0].key)
            del self.points[0]
            self._trim()
        return [key for key in gone if key]

    def find(self, at_ns: int | None = None, seq: int | None = None) -> int | None:
        """Return the place of the act of a time or with a number, or of the operator's last act.

        Notes
        -----
        An event has its number only once it is stored, so that a live run knows it by its time.
        """
        for place in range(len(self.points) - 1, -1, -1):
            act = self.points[place].act
            if act is None:
                continue
            if at_ns is not None:
                if stamp_ns(act) == at_ns:
                    return place
            elif seq is None or act.seq == seq:
                return place
        return None

    def before(self, t_ns: int) -> int | None:
        """Return the place of the last state kept no later than a time [ns], else of the oldest.

        The state at which the sheet's rule ended a stage does not count: it is one within a tick.
        """
        places = [n for n, point in enumerate(self.points) if not point.key]
        kept = [n for n in places if self.points[n].t_ns <= t_ns]
        return kept[-1] if kept else next(iter(places), None)

    def find_key(self, key: str) -> int | None:
        """Return the place of the end of a stage by the sheet's rule."""
        return next((i for i, p in enumerate(self.points) if p.key == key), None)

    def cut(self, place: int) -> tuple[Point[Scene], list[Reading | Event], list[Event]]:
        """Return a point, the items to feed again and what was said since; forget them all."""
        point = self.points[place]
        start = point.at - self.first
        again = self.items[start + (point.act is not None) :]
        del self.points[place:]
        del self.items[start:]
        since = [e for e in self.said if e.t_ns >= point.t_ns]
        self.said = [e for e in self.said if e.t_ns < point.t_ns]
        return point, again, since

    def pin(self, place: int, kept: Mapping[str, object]) -> None:
        """Let the acts after a point keep beginning the stages they began.

        Parameters
        ----------
        place : int
            Of the point.
        kept : mapping
            Ids of stages by the time of their acts [ns], as `logger.model.history.pinned` takes it.
        """
        for at in range(self.points[place].at - self.first, len(self.items)):
            item = self.items[at]
            if isinstance(item, Event):
                self.items[at] = pinned(item, kept)

    def _trim(self) -> None:
        if not self.points:
            self.first += len(self.items)
            self.items.clear()
            self.said.clear()
            return
        gone = self.points[0].at - self.first
        if gone > 0:
            del self.items[:gone]
            self.first += gone
            oldest_ns = self.points[0].t_ns
            self.said = [e for e in self.said if e.t_ns >= oldest_ns]


def not_said_before(events: list[Event], before: list[Event]) -> list[Event]:
    """Return the events that were not among those said before (each counted once)."""
    known = Counter(_sameness(e) for e in before)
    fresh = []
    for event in events:
        key = _sameness(event)
        if known[key] > 0:
            known[key] -= 1
        else:
            fresh.append(event)
    return fresh


def copied(scene: Scene, shared: dict[int, Any]) -> Scene:
    """Copy a state; what never changes is shared by way of the memo."""
    return copy.deepcopy(scene, dict(shared))


def sharing(*roots: Any) -> dict[int, Any]:
    """Return a deepcopy memo under which `roots`, and the tables inside them, are not copied."""
    memo: dict[int, Any] = {}

    def share(thing: Any) -> None:
        if id(thing) in memo:
            return
        if isinstance(thing, BaseModel):
            memo[id(thing)] = thing
            for value in thing.__dict__.values():
                share(value)
        elif isinstance(thing, (list, tuple)):
            for value in thing:
                share(value)

    for root in roots:
        share(root)
        memo[id(root)] = root
        if isinstance(root, dict):
            memo.update({id(value): value for value in root.values()})
    return memo


def _sameness(event: Event) -> tuple[int, str, str | None, str | None, str]:
    """Return what makes two events the same; what the bench shows is not of one stage alone."""
    stage = event.stage if event.kind.startswith("stage") else None
    return event.t_ns, event.kind, event.channel, stage, event.text

"""Readings and events into the engine in time order; the same live and on replay.

Pure given its input: takes time from it. Ports deliver slightly out of order, so items wait a
moment before the engine sees them; a reading that comes later than that is kept but not judged.
A bug in the engine costs the judging of the one item it met: what follows is judged, and the bug is
told once.
"""

import logging
from collections import Counter
from collections.abc import Mapping, Sequence

from logger.correct.channel import Corrector
from logger.model.bench import Bench
from logger.model.event import Event
from logger.model.finding import Results
from logger.model.reading import Reading
from logger.model.rows import JudgedRow
from logger.model.sheet import Sheet
from logger.model.state import StageView, State
from logger.science.fats.fats import Fat
from logger.watch.engine.engine import SECOND_NS, Engine
from logger.watch.engine.merge import Merger

log = logging.getLogger(__name__)

HOLD_BACK_NS = 300_000_000
"""How long items wait for others that are older [ns of the run]."""
TOLD_BUGS = 20
"""Different bugs that are told at most."""
CANT_TELL = "Can't tell what to do now: a bug in judging. Recording goes on."


class Pipeline:
    """The engine of one run with its waiting room.

    Parameters
    ----------
    sheet, bench : Sheet, Bench
        As frozen in the run.
    correctors : mapping
        Corrector of each channel by id.
    fats : mapping
        Fats by key.
    hold_back_ns : int
        How long items wait [ns of the run].
    """

    def __init__(
        self,
        sheet: Sheet,
        bench: Bench,
        correctors: Mapping[str, Corrector],
        fats: Mapping[str, Fat],
        hold_back_ns: int = HOLD_BACK_NS,
    ) -> None:
        self.engine = Engine(sheet, bench, correctors=correctors, fats=fats)
        self._merger = Merger()
        self._hold_back_ns = hold_back_ns
        self._fed_ns = 0
        self._judged: Counter[str] = Counter()
        self._noted: list[Reading | Event] | None = None
        self._bugs: list[str] = []
        self._known_bugs: set[str] = set()

    def offer(self, items: Sequence[Reading | Event]) -> list[Reading | Event]:
        """Take new items; return them as they stand, late readings flagged and late events moved
        up to where the engine stands."""
        standing = self._merger.add(items)
        if self._noted is not None:
            self._noted += standing
        return standing

    def waiting(self) -> list[Event]:
        """Return the events that the engine has not seen yet, in order of arrival."""
        return [item for item in self._merger.waiting if isinstance(item, Event)]

    @property
    def seen_ns(self) -> int:
        """Time up to which the engine has seen everything [ns]."""
        return self._fed_ns

    def note(self) -> None:
        """Note from here on what the engine has not seen, for one that takes its place."""
        self._noted = list(self._merger.waiting)

    def give_way(self, other: "Pipeline") -> None:
        """Go on with another pipeline that has come as far as this one was at `note`."""
        noted, self._noted = self._noted or [], None
        self.take_over(other)
        self._merger.add(noted)

    def advance(self, now_ns: int) -> list[Event]:
        """Let the engine see what has waited long enough; return what it says."""
        return self._feed(now_ns - self._hold_back_ns)

    def see_all(self, up_to_ns: int) -> list[Event]:
        """Let the engine see all up to a time [ns], also what might wait for others; return what it
        says."""
        return self._feed(up_to_ns)

    def finish(self, end_ns: int) -> tuple[list[Event], Results]:
        """Let the engine see the rest and judge the run."""
        events = self._feed(end_ns)
        try:
            results = self.engine.finish(end_ns)
        except Exception as cause:  # noqa: BLE001 - logged, and told in the run
            self._note(cause)
            results = self.engine.results()
        results.judged = [JudgedRow(channel=c, readings=n) for c, n in sorted(self._judged.items())]
        return [*events, *self.engine.said], results

    def take_over(self, other: "Pipeline") -> None:
        """Go on where another pipeline stands: after a resume, at the end of what was stored."""
        self.engine, self._merger, self._fed_ns = other.engine, other._merger, other._fed_ns
        self._judged = other._judged
        self._bugs, self._known_bugs = other._bugs, other._known_bugs

    def state(self, now_ns: int) -> State:
        """Return what the screen should show."""
        try:
            return self.engine.state(now_ns)
        except Exception as cause:  # noqa: BLE001 - logged, and told in the run
            self._note(cause)
            return State(view=StageView(say=CANT_TELL, tone="warn"))

    def bugs(self) -> list[str]:
        """Return what went wrong in judging since the last call; each bug is told once."""
        bugs, self._bugs = self._bugs, []
        return bugs

    def _feed(self, up_to_ns: int) -> list[Event]:
        if up_to_ns <= self._fed_ns:
            return []
        # Each try takes an item or a second of the run with it.
        items = self._merger.release(up_to_ns)
        self._judged.update(item.channel for item in items if isinstance(item, Reading))
        tries = len(items) + (up_to_ns - self._fed_ns) // SECOND_NS + 2
        self._fed_ns = up_to_ns
        left, said = iter(items), list[Event]()
        for _ in range(tries):
            try:
                return said + self.engine.feed(left, up_to_ns)
            except Exception as cause:  # noqa: BLE001 - logged, and told in the run
                said += self.engine.said
                self._note(cause)
        return said

    def _note(self, cause: Exception) -> None:
        text = f"a bug in judging: {type(cause).__name__}: {cause}"[:300] + "; replay the run"
        if text not in self._known_bugs and len(self._known_bugs) < TOLD_BUGS:
            log.error("%s", text, exc_info=cause)
            self._known_bugs.add(text)
            self._bugs.append(text)

"""What a run file says of its run, and how it is looked at: read-only, one snapshot, closed again.

Sheet, bench, events, results, outcome, clocks, status. A reader never holds the writer up and keeps
no log alive; what is damaged is told as such.
"""

import json
import struct
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from functools import cached_property
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import zstandard
from pydantic import ValidationError

from logger.model.bench import Bench
from logger.model.errors import BadFileError, BainlogError
from logger.model.event import Event
from logger.model.files import bench_from_text, sheet_from_text
from logger.model.finding import Results
from logger.model.history import started_with
from logger.model.plainly import results_from
from logger.model.rows import StartRow
from logger.model.sheet import Sheet
from logger.store.folder.lock import is_held, lock_path
from logger.store.run.errors import DamagedError, NewerFileError
from logger.store.run.records import Anchor, ChannelRecord, Outcome, RunHeader, Status
from logger.store.run.schema import reading, todays_results
from logger.store.seals.damage import Damage, DamagedPart
from logger.store.seals.look import Look, look_at
from logger.store.seals.pieces import Known
from logger.store.seals.rows import gaps_in, read_rows
from logger.store.seals.tally import PARTS

_LATEST_UTC_NS = 4_102_444_800_000_000_000
"""2100-01-01 [ns since 1970]."""


class Looking:
    """A run file and the way to look at it; what is asked stands in its children.

    Parameters
    ----------
    path : Path
        The run file.
    tolerant : bool
        Leave out what is damaged instead of raising; who reads so shows `RunView.damage` as well.
    """

    def __init__(self, path: Path, *, tolerant: bool = False) -> None:
        self.path = path
        self.tolerant = tolerant
        self._held: Look | None = None
        self._known = Known()

    @contextmanager
    def together(self) -> Iterator[Self]:
        """Answer all questions within from one snapshot: faster for many, and consistent.

        Keep it short while the run is written: the log cannot shrink meanwhile. One thread only.
        Within another it is that one's snapshot.
        """
        if self._held is not None:
            yield self
            return
        with self._look() as look:
            self._held = look
            try:
                yield self
            finally:
                self._held = None

    @contextmanager
    def _look(self) -> Iterator[Look]:
        with self._decoding():
            if self._held is not None:
                yield self._held
                return
            with reading(self.path) as db:
                look = look_at(db, self._known)
                if look is None:
                    raise DamagedError(self.path, [Damage(part="header")])
                yield look

    def _damaged(self, damage: Iterable[Damage]) -> None:
        """Refuse damage of what was asked for, unless it is to be left out."""
        found = list(damage)
        if found and not self.tolerant:
            raise DamagedError(self.path, found)

    def _part(self, look: Look, part: DamagedPart) -> tuple[Any, ...]:
        """Return a part of the run's row that nothing stands in for."""
        found = look.part(part)
        if found is None:
            if look.tally is None:
                raise BadFileError(f"{self.path}: holds no run")
            raise DamagedError(self.path, [Damage(part=part)])
        return found

    def close(self) -> None:
        """Nothing is held between questions; here for symmetry."""

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    @contextmanager
    def _decoding(self, what: str = "a block") -> Iterator[None]:
        """Say that a part of the file is damaged, whatever its damage breaks."""
        try:
            yield
        except BainlogError:
            raise
        except (
            zstandard.ZstdError,
            struct.error,
            ValueError,
            LookupError,
            TypeError,
            ArithmeticError,
            RecursionError,
            MemoryError,
        ) as cause:
            first = (str(cause).splitlines() or [""])[0][:200]
            raise BadFileError(f"{self.path}: {what} is damaged ({first})") from cause

    @contextmanager
    def _this_edition(self, what: str) -> Iterator[None]:
        """Say that a whole part that does not read is of a newer edition: its seal fits, so it is
        as it was written."""
        try:
            yield
        except ValidationError as cause:
            if not self._is_bound:
                raise
            raise NewerFileError(self.path, f"{what}: {_unknown(cause)}") from cause

    @cached_property
    def _is_bound(self) -> bool:
        with self._look() as look:
            return look.tally is not None


class RunFacts(Looking):
    """Everything of a run but its readings and raw bytes."""

    @classmethod
    def open(cls, path: str | Path, *, tolerant: bool = False) -> Self:
        """Open a run file for reading.

        Parameters
        ----------
        path : str or Path
            The run file.
        tolerant : bool
            Leave out what is damaged instead of raising; then show `damage` as well.

        Raises
        ------
        StoreError
            If there is no such run file, it is damaged, or made by a newer edition.
        """
        view = cls(Path(path), tolerant=tolerant)
        _ = view.header
        return view

    @cached_property
    def header(self) -> RunHeader:
        """What was known of the run when it began.

        Of a tolerant view a damaged text is empty and a damaged channel is left out.

        Raises
        ------
        StoreError
            If the file holds no run, or its header cannot be read.
        """
        with self._look() as look, self._decoding("the header"):
            head = dict(zip(PARTS["header"], self._part(look, "header"), strict=True))
            for part in ("sheet", "sheet text", "bench", "bench text", "line formats"):
                found = look.part(part)
                if found is None:
                    self._damaged([Damage(part=part)])
                head[PARTS[part][0]] = "" if found is None else found[0]
            numbers = {"started_utc_ns", "clock_speed"}
            _require_text(*(value for name, value in head.items() if name not in numbers))
            _require_start(head["started_utc_ns"], head["clock_speed"])
            return RunHeader(**head, channels=tuple(self._channels.values()))

    @cached_property
    def _channels(self) -> dict[int, ChannelRecord]:
        """Channels by number."""
        with self._look() as look, self._decoding("a channel"):
            rows = read_rows(look.db, look.sealer, "channel")
            found = {number: ChannelRecord(*parts) for number, *parts in rows}
            if look.counts is not None and gaps_in(list(found), 0, len(look.counts.readings) - 1):
                self._damaged([Damage(part="channel")])
        return found

    def sheet(self) -> Sheet:
        """Return the batch sheet as it was when the run began.

        Raises
        ------
        StoreError
            If it is damaged, or made by a newer edition; a tolerant view reads a damaged one from
            its text first.
        """
        with self._decoding("the sheet"), self._this_edition("its sheet"):
            header = self.header
            if not header.sheet_json and header.sheet_text and self.tolerant:
                return sheet_from_text(header.sheet_text, "the run's sheet")
            return Sheet.model_validate_json(header.sheet_json)

    def bench(self) -> Bench:
        """Return the bench as it was when the run began."""
        return self._bench

    @cached_property
    def _bench(self) -> Bench:
        with self._decoding("the bench"), self._this_edition("its bench"):
            header = self.header
            if not header.bench_json and header.bench_text and self.tolerant:
                return bench_from_text(header.bench_text, "the run's bench")
            return Bench.model_validate_json(header.bench_json)

    def channels(self) -> tuple[ChannelRecord, ...]:
        """Return the channels, in the order of the bench."""
        return self.header.channels

    def events(self, after_seq: int = 0) -> list[Event]:
        """Return the events with a number above `after_seq`, in the order of their numbers."""
        with self._look() as look, self._decoding("an event"):
            rows = look.events() if after_seq == 0 else self._events_after(look, after_seq)
            if look.counts is not None:
                gaps = gaps_in([row[0] for row in rows], after_seq + 1, look.counts.events)
                self._damaged(Damage(part="events", first=first, last=last) for first, last in gaps)
            return [
                Event(
                    t_ns=t_ns,
                    kind=kind,
                    source=source,
                    channel=channel,
                    port=port,
                    stage=stage,
                    text=text,
                    data=json.loads(data),
                    seq=seq,
                )
                for seq, t_ns, kind, source, channel, port, stage, text, data in rows
            ]

    def _events_after(self, look: Look, seq: int) -> list[tuple[Any, ...]]:
        return read_rows(look.db, look.sealer, "event", "WHERE seq > ?", (seq,))

    def started_with(self) -> StartRow:
        """Return what was said of the batch when it was started."""
        return started_with(self.events())

    def results(self) -> Results | None:
        """Return what the engine worked out when the run ended, or None.

        A tolerant view gives None for damaged ones: they are worked out again.
        """
        with self._look() as look:
            found, version = look.part("results"), look.version
            if found is None:
                self._damaged([Damage(part="results")])
        with self._decoding("the results"), self._this_edition("what it found"):
            if found is None or found[0] is None:
                return None
            return results_from(todays_results(json.loads(found[0]), version))

    def outcome(self) -> Outcome:
        """Return what the user said came out.

        A tolerant view takes a damaged one from the events.
        """
        with self._look() as look:
            found = look.part("outcome")
            if found is None:
                self._damaged([Damage(part="outcome")])
                return self._outcome_said()
        with self._decoding("the outcome"):
            outcome, defects, note = found
            return Outcome(outcome=outcome, defects=tuple(json.loads(defects)), note=note)

    def _outcome_said(self) -> Outcome:
        said = [event for event in self.events() if event.kind == "outcome"]
        if not said:
            return Outcome(outcome=None)
        data = said[-1].data
        return Outcome(
            outcome=data.get("outcome"), defects=tuple(data.get("defects", ())), note=said[-1].text
        )

    def anchors(self) -> list[Anchor]:
        """Return where the axis stood against the clocks, in the order stored."""
        with self._look() as look, self._decoding("a comparison of the clocks"):
            rows = read_rows(look.db, look.sealer, "anchor")
            if look.counts is not None and len(rows) < look.counts.anchors:
                self._damaged([Damage(part="clocks")])
        return [Anchor(*row[1:]) for row in rows]

    def counters(self) -> dict[str, dict[str, int]]:
        """Return the latest counts of each instrument."""
        with self._look() as look, self._decoding("a counter"):
            rows = read_rows(look.db, look.sealer, "counter")
            if look.counts is not None and len(rows) < look.counts.counters:
                self._damaged([Damage(part="counters")])
            return {instrument: json.loads(counts) for instrument, counts in rows}

    @property
    def last_seq(self) -> int:
        """Number of the last event; 0 without any."""
        with self._look() as look:
            if look.counts is not None:
                return look.counts.events
            found: int = look.db.execute("SELECT coalesce(max(seq), 0) FROM event").get
            return found

    @property
    def ended_utc_ns(self) -> int | None:
        """When the run was ended [ns since 1970], or None."""
        with self._look() as look:
            found: int | None = self._part(look, "end")[0]
        return found

    @property
    def duration_ns(self) -> int:
        """Time of the last reading or event on the run's axis [ns]; 0 for an empty run.

        Raises
        ------
        StoreError
            If what is damaged may have come last; a tolerant view leaves that out.
        """
        with self._look() as look, self._decoding("an event"):
            if look.counts is not None and not self.tolerant:
                self._damaged(self._lost_at_the_end(look))
            times_us = [look.pieces(number).last_us for number in self._channels]
            times_ns = [us * 1000 for us in times_us if us is not None]
            return max(0, look.last_event_ns(), *times_ns)

    def _lost_at_the_end(self, look: Look) -> Iterator[Damage]:
        """Give the damaged events, and the damaged readings that no whole one of theirs follows."""
        if look.counts is not None:
            gaps = gaps_in([row[0] for row in look.events()], 1, look.counts.events)
            yield from (Damage(part="events", first=first, last=last) for first, last in gaps)
        for number, record in self._channels.items():
            pieces = look.pieces(number)
            last_us = pieces.last_us
            yield from (
                hole.damage(record.id)
                for hole in pieces.holes
                if hole.to_us is None or last_us is None or hole.to_us > last_us
            )

    @property
    def status(self) -> Status:
        """``recording``: a living process writes it; ``interrupted``: cut off."""
        with self._look() as look:
            ended, interrupted = self._part(look, "end")
        if ended is not None:
            return "interrupted" if interrupted else "ended"
        return "recording" if is_held(lock_path(self.path)) else "interrupted"


def _unknown(cause: ValidationError) -> str:
    """Say where the first value is that this edition does not know."""
    error = cause.errors(include_input=False, include_url=False)[0]
    key = ".".join(str(part + 1 if isinstance(part, int) else part) for part in error["loc"])
    tag = error.get("ctx", {}).get("tag")
    kind = f" of kind {str(tag)[:40]!r}" if tag is not None else ""
    return f"{key[:100]}{kind} is not known to this one"


def _require_start(started_utc_ns: Any, clock_speed: Any) -> None:
    """Refuse a start that no calendar has, and a clock that stands or goes back."""
    if not isinstance(started_utc_ns, int) or not 0 <= started_utc_ns <= _LATEST_UTC_NS:
        raise ValueError("its start is not a time")
    if not isinstance(clock_speed, float) or not 0.0 < clock_speed < 1e9:
        raise ValueError("its clock has no speed")


def _require_text(*parts: Any) -> None:
    """Refuse bytes and numbers where text was stored: a damaged row holds them."""
    if not all(isinstance(part, str) for part in parts):
        raise TypeError("text was stored there, but something else was read")

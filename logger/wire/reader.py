"""Bytes of one instrument, as they come, to readings and notices with their times.

Pure: the same chunks with the same stamps give the same output, so a replay of the raw bytes gives
the readings of the day; what is read does not depend on where the chunks were cut. Live and replay
use this class and no other. Called by the port threads and by the store's replay.
"""

from collections import deque
from collections.abc import Iterator
from dataclasses import asdict, dataclass

from logger.model.bench import Instrument, PortSettings
from logger.model.reading import Notice, RawReading
from logger.wire.binary.frames import BinaryFramer
from logger.wire.binary.numbers import BinaryDecoder
from logger.wire.framing import Framer, framer_of
from logger.wire.jsonline import JsonDecoder
from logger.wire.modbus import AsciiFramer, RtuDecoder, RtuFramer
from logger.wire.parsed import Note, Parsed
from logger.wire.shapes.shape import Shape
from logger.wire.shapes.tables import PortLine
from logger.wire.textline import TextDecoder

WINDOW_NS = 5_000_000_000
"""Span over which the share of bad lines is taken [ns]."""
QUIET_NS = 100_000_000
"""A line that was under way would have gone on within this time [ns].

USB bridges hold bytes back for up to 16 ms.
"""
STEP_NS = 1_000
"""Two lines of one instrument are at least this far apart [ns]."""
MOMENTS = ("tare", "mark", "banner")
"""Notes that are said each time; others are said when they begin."""
TEXT_MAX = 60
_new = tuple.__new__
"""Makes a named tuple in half the time; only where each line passes."""


@dataclass(slots=True)
class Counters:
    """What went through a reader; ``bytes == line_bytes + dropped_bytes + waiting``."""

    bytes: int = 0
    lines: int = 0
    readings: int = 0
    bad: int = 0
    """Lines that fitted no rule or failed their check."""
    too_long: int = 0
    line_bytes: int = 0
    dropped_bytes: int = 0
    waiting: int = 0

    def __iter__(self) -> Iterator[tuple[str, int]]:
        """Yield names and numbers, so that ``dict(counters)`` is a copy."""
        return iter(asdict(self).items())


def line_of(shape: Shape, settings: PortSettings) -> PortLine:
    """Return the settings of the line: the shape's own, but for what the bench file says."""
    changes = {k: v for k, v in settings.model_dump().items() if v is not None}
    return shape.port.model_copy(update=changes)


def character_ns(line: PortLine) -> float:
    """Return how long one character takes on the wire [ns]: start, data, parity and stop bits."""
    bits = 1 + line.bits + (line.parity != "N") + line.stop
    return bits * 1e9 / line.baud


def reader_of(instrument: Instrument, shape: Shape) -> "LineReader":
    """Return the reader of an instrument, live or on replay."""
    if instrument.device is not None:
        shape = shape.model_copy(update={"device": instrument.device})
    if instrument.whole:
        shape = shape.model_copy(update={"whole": True})
    return LineReader(shape, settings=instrument.settings, delay_s=instrument.delay_s)


class LineReader:
    """Reads the bytes of one instrument by its line format.

    Parameters
    ----------
    shape : Shape
        What its lines look like.
    settings : PortSettings
        Where the line settings differ from the shape's.
    delay_s : float
        Filter delay of the instrument [s]; the fields' own delays are added.
    """

    def __init__(self, shape: Shape, *, settings: PortSettings, delay_s: float) -> None:
        self._framer: Framer
        self._decoder: TextDecoder | JsonDecoder | RtuDecoder | BinaryDecoder
        if shape.decode == "modbus":
            framer = AsciiFramer if shape.transmission == "ascii" else RtuFramer
            self._framer = framer(shape)
            self._decoder = RtuDecoder(shape)
        elif shape.decode == "binary":
            self._framer, self._decoder = BinaryFramer(shape), BinaryDecoder(shape)
        else:
            self._framer = framer_of(shape.frame)
            self._decoder = JsonDecoder(shape) if shape.decode == "json" else TextDecoder(shape)
        self._character_ns = character_ns(line_of(shape, settings))
        self._delay_ns = round(delay_s * 1e9)
        self.counters = Counters()
        self._recent: deque[tuple[int, int, int]] = deque()
        self._recent_lines = self._recent_bad = 0
        self._opened_ns: int | None = None
        self._units: dict[str, str] = {}
        self._net: bool | None = None
        self._shown: tuple[tuple[tuple[str, str], ...], bool | None] = (), None
        self._last_ns: int | None = None
        self._standing: dict[str | None, str] = {}
        self._bad_run = ""

    def reset(self, t_ns: int | None = None) -> None:
        """Start anew after the port was opened: the half line is dropped.

        Parameters
        ----------
        t_ns : int, optional
            When the port was opened, on the run's axis [ns]. The first line is read only when
            nothing came for a moment after that, as it may be the tail of a line otherwise.
        """
        self._framer.reset(begins=False)
        self._decoder.reset()
        self._opened_ns = t_ns
        self._standing.clear()
        self._bad_run = ""
        self._recent.clear()
        self._recent_lines = self._recent_bad = 0
        self._count()

    def feed(self, chunk: bytes, t_ns: int) -> list[RawReading | Notice]:
        """Read one chunk.

        Parameters
        ----------
        chunk : bytes
            As it came.
        t_ns : int
            When it came, on the run's axis [ns]; not before the chunk fed last.

        Returns
        -------
        list of RawReading or Notice
            In the order of the bytes. The time of a reading is that of the first character of its
            line on the wire, less the delays.
        """
        if self._opened_ns is not None:
            if t_ns - self._opened_ns >= QUIET_NS:
                self._framer.reset(begins=True)
            self._opened_ns = None
        out: list[RawReading | Notice] = []
        append, decode = out.append, self._decoder.decode
        per_character, delay_ns = self._character_ns, self._delay_ns
        last_ns = self._last_ns if self._last_ns is not None else -(1 << 62)
        lines = bad = readings = line_bytes = 0
        units, net = self._shown
        for data, size, after, fault in self._framer.feed(chunk):
            at_ns = t_ns - int((after + size) * per_character) - delay_ns
            if at_ns < last_ns + STEP_NS:
                at_ns = last_ns + STEP_NS
            last_ns = at_ns
            lines += 1
            line_bytes += size
            parsed = None if fault else decode(data)
            if parsed is None:
                bad += 1
                self._say_bad(data, at_ns, fault, out)
                continue
            self._bad_run = ""
            values, notes, units_now, net_now = parsed
            for field, field_delay_ns, value, unit, flags, cold_c in values:
                append(
                    _new(RawReading, (field, at_ns - field_delay_ns, value, unit, flags, cold_c))
                )
            readings += len(values)
            if notes or self._standing:
                self._say_notes(parsed, at_ns, out)
            if units_now is not units or net_now is not net:
                self._say_changes(parsed, at_ns, out)
                units, net = units_now, net_now
        self._shown = units, net
        self.counters.bytes += len(chunk)
        self.counters.readings += readings
        self.counters.line_bytes += line_bytes
        if lines:
            self._last_ns = last_ns
            self._count_lines(t_ns, lines, bad)
        self._count()
        return out

    def _count_lines(self, t_ns: int, lines: int, bad: int) -> None:
        self.counters.lines += lines
        self.counters.bad += bad
        self._recent.append((t_ns, lines, bad))
        self._recent_lines += lines
        self._recent_bad += bad
        self._forget(t_ns)

    def bad_share(self, t_ns: int) -> float:
        """Return the share of unread lines in the five seconds before `t_ns`; 0 without lines."""
        self._forget(t_ns)
        return self._recent_bad / self._recent_lines if self._recent_lines else 0.0

    def _forget(self, t_ns: int) -> None:
        recent = self._recent
        while recent and recent[0][0] < t_ns - WINDOW_NS:
            _, lines, bad = recent.popleft()
            self._recent_lines -= lines
            self._recent_bad -= bad

    def _count(self) -> None:
        self.counters.dropped_bytes = self._framer.dropped
        self.counters.waiting = self._framer.pending

    def _say_bad(self, data: bytes, t_ns: int, fault: str, out: list[RawReading | Notice]) -> None:
        # The first of a row of bad lines is told; the rest is counted.
        kind = "too_long" if fault == "too_long" else "bad_line"
        self.counters.too_long += kind == "too_long"
        if self._bad_run == kind:
            return
        self._bad_run = kind
        shown = data.decode("ascii", "backslashreplace")[:TEXT_MAX]
        text = f"failed its check: {shown!r}" if fault == "check" else repr(shown)
        out.append(Notice(kind, t_ns, None, text))

    def _say_notes(self, parsed: Parsed, t_ns: int, out: list[RawReading | Notice]) -> None:
        # A state is told when it begins; it ends with the next value of its field.
        now = {note.field: note for note in parsed.notes if note.kind not in MOMENTS}
        out.extend(
            Notice(note.kind, _time_of(note.field, parsed, t_ns), note.field, note.text)
            for note in parsed.notes
            if note.kind in MOMENTS or self._standing.get(note.field) != _state(note)
        )
        for value in parsed.values:
            if value.field not in now:
                self._standing.pop(value.field, None)
        if parsed.values and None not in now:
            self._standing.pop(None, None)
        self._standing.update({field: _state(note) for field, note in now.items()})

    def _say_changes(self, parsed: Parsed, t_ns: int, out: list[RawReading | Notice]) -> None:
        for field, unit in parsed.units:
            before = self._units.get(field)
            if before != unit:
                self._units[field] = unit
                if before is not None:
                    text = f"unit changed from {before} to {unit}; values stay in g or degC"
                    at_ns = _time_of(field, parsed, t_ns)
                    out.append(Notice("unit_change", at_ns, field, text))
        if parsed.net is not None and parsed.net is not self._net:
            before_net, self._net = self._net, parsed.net
            if before_net is not None:
                name = parsed.values[0].field if parsed.values else None
                text = "the scale was tared: it shows net" if parsed.net else "it shows gross again"
                out.append(Notice("tare", _time_of(name, parsed, t_ns), name, text))


def _time_of(field: str | None, parsed: Parsed, t_ns: int) -> int:
    return t_ns - next((v.delay_ns for v in parsed.values if v.field == field), 0)


def _state(note: Note) -> str:
    return f"{note.kind} {note.text}"

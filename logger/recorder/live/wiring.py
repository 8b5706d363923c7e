"""Chunks of bytes to corrected readings of channels; the same live and on replay.

Pure given its input. The one place where lines are read: ports hand on bytes. The recorder makes a
fresh wiring when a run starts, so that the bytes kept in the run file, and nothing else, give its
readings: a line that had begun before the run counts in neither.
"""

import datetime
from collections.abc import Callable, Mapping
from typing import NamedTuple

from logger.correct.channel import Corrector
from logger.model.bench import Bench
from logger.model.errors import InputError
from logger.model.event import Event
from logger.model.reading import Flag, Notice, RawReading, Reading
from logger.model.state import PortRow
from logger.store.run.format import whole_us
from logger.store.run.records import ChannelRecord
from logger.wire.reader import LineReader, line_of, reader_of
from logger.wire.shapes.shape import Shape
from logger.words.values import percent_text

QUIET = frozenset({"bad_line", "too_long", "banner", "busy"})
"""Notices that are counted and kept as raw bytes but make no event of their own: a wrong baud rate
would otherwise write thousands."""
Correct = Callable[[float, str, float | None], tuple[float, float]]
_new = tuple.__new__
"""Makes a named tuple in half the time; only where each line passes."""
COLD_JUNCTION_NS = 10_000_000_000
"""How often the cold junction of a board is told [ns of the run]."""
NO_U = float("nan")
FAULT, UNTRUSTED = int(Flag.FAULT), int(Flag.UNTRUSTED)
BAD_SHARE = 0.2
"""Share of unread lines in 5 s above which a port is not believed."""


def channel_records(bench: Bench, shapes: Mapping[str, Shape]) -> tuple[ChannelRecord, ...]:
    """Return how each channel of a bench is stored.

    Raises
    ------
    InputError
        If a channel names a field that its instrument's line format does not have.
    """
    records = []
    instruments = {i.id: i for i in bench.instrument}
    for channel in bench.channel:
        shape_name = instruments[channel.instrument].shape
        fields = shapes[shape_name].channel
        if channel.field not in fields:
            raise InputError(
                f"bench file: channel {channel.id!r}: field",
                f"{channel.field!r} is not in line format {shape_name!r}",
                f"its fields are {', '.join(fields)}",
            )
        unit = fields[channel.field].unit_out
        if (unit == "g") != (channel.unit == "g"):
            raise InputError(
                f"bench file: channel {channel.id!r}: role",
                f"{channel.role!r} is in {channel.unit}, field {channel.field!r} in {unit}",
                "give the channel another role or field",
            )
        records.append(
            ChannelRecord(channel.id, channel.instrument, channel.field, channel.role, unit)
        )
    return tuple(records)


def longest_delay_ns(bench: Bench, shapes: Mapping[str, Shape]) -> int:
    """Return how far behind its sample time a reading of the bench may arrive [ns].

    The declared delays of instrument and field, and the time that its longest line takes on the
    wire; without what the computer itself adds.
    """
    longest_s = 0.0
    for instrument in bench.instrument:
        shape = shapes[instrument.shape]
        field_s = max((f.delay_s for f in shape.channel.values()), default=0.0)
        transit_s = 10.0 * shape.frame.max / line_of(shape, instrument.settings).baud
        longest_s = max(longest_s, instrument.delay_s + field_s + transit_s)
    return round(longest_s * 1e9)


class Taken(NamedTuple):
    """One reading on its way: corrected, for the engine, and as sent, for the store."""

    reading: Reading
    sent: float | None
    """In the unit in which the channel is stored."""
    cold_junction_c: float | None


class Wiring:
    """Turns what the ports deliver into readings of the bench's channels.

    Parameters
    ----------
    bench : Bench
        The wiring as written.
    shapes : mapping
        Line formats by name.
    today : date
        Day the run began; decides which corrections are overdue.

    Raises
    ------
    KeyError
        If an instrument names a shape that is not there.
    """

    def __init__(self, bench: Bench, shapes: Mapping[str, Shape], today: datetime.date) -> None:
        self.correctors = {c.id: Corrector(c, today) for c in bench.channel}
        self._readers = {
            i.id: reader_of(i, shapes[i.shape]) for i in bench.instrument if i.shape in shapes
        }
        self._channels: dict[str, dict[str, list[tuple[str, Correct]]]] = {
            i.id: {} for i in bench.instrument
        }
        for channel in bench.channel:
            self._channels[channel.instrument].setdefault(channel.field, []).append(
                (channel.id, self.correctors[channel.id].value)
            )
        self._trouble: dict[tuple[str, str], str] = {}
        self._untrusted: set[str] = set()
        self._cold_due_ns: dict[str, int] = {}

    def take(
        self, instrument: str, kind: str, data: bytes, t_ns: int
    ) -> tuple[list[Taken], list[Event]]:
        """Take what a port delivered.

        Parameters
        ----------
        instrument : str
            Instrument id.
        kind : str
            ``open``, ``data`` or ``close``.
        data : bytes
            Bytes as they came.
        t_ns : int
            Arrival of the first byte on the run's axis [ns].
        """
        reader = self._readers[instrument]
        if kind != "data":
            # The first line after an opening counts when the line was quiet; what was open already
            # when the run began may be in the middle of one.
            reader.reset(t_ns if kind == "open" and t_ns > 0 else None)
            return [], []
        outcomes = reader.feed(data, t_ns)
        events = self._trust(instrument, reader, t_ns)
        extra = UNTRUSTED if instrument in self._untrusted else 0
        taken: list[Taken] = []
        for outcome in outcomes:
            if type(outcome) is RawReading:
                if outcome.cold_junction_c is not None:
                    events += self._cold_junction(instrument, outcome)
                self._readings(instrument, outcome, extra, taken)
            elif isinstance(outcome, Notice):
                events += self._notice(instrument, outcome)
        return taken, events

    def knows(self, instrument: str) -> bool:
        """Whether the bench has an instrument."""
        return instrument in self._readers

    def counters(self) -> dict[str, dict[str, int]]:
        """Return what each reader counted."""
        return {name: dict(reader.counters) for name, reader in self._readers.items()}

    def fill_in(self, port: PortRow, t_ns: int) -> None:
        """Add to an instrument's row what was read of its lines.

        Parameters
        ----------
        port : PortRow
            As its port's thread gave it.
        t_ns : int
            Now, on the run's axis [ns].
        """
        reader = self._readers.get(port.instrument)
        if reader is None:
            return
        counters = reader.counters
        port.lines, port.readings, port.bad = counters.lines, counters.readings, counters.bad
        port.bad_share = reader.bad_share(t_ns)
        port.untrusted = port.instrument in self._untrusted
        if port.status == "connected" and port.bad_share > BAD_SHARE:
            port.says = (
                f"{percent_text(port.bad_share)} of its lines can't be read; check the baud rate "
                "and the line format"
            )

    def _readings(self, instrument: str, raw: RawReading, extra: int, taken: list[Taken]) -> None:
        """Add the readings of all channels of a field; each line passes here, so it is spare."""
        field, raw_ns, sent, unit, flags, cold_junction_c = raw
        if sent is not None and self._trouble:
            self._trouble.pop((instrument, field), None)
        t_ns, flags = whole_us(raw_ns), flags | extra
        for channel_id, correct in self._channels[instrument].get(field, ()):
            if sent is None:
                reading = _new(Reading, (channel_id, t_ns, None, NO_U, flags))
            else:
                value, u = correct(sent, unit, cold_junction_c)
                if value == value:
                    reading = _new(Reading, (channel_id, t_ns, value, u, flags))
                else:
                    reading = _new(Reading, (channel_id, t_ns, None, u, flags | FAULT))
            taken.append(_new(Taken, (reading, sent, cold_junction_c)))

    def _cold_junction(self, instrument: str, raw: RawReading) -> list[Event]:
        """Tell the cold junction now and then: its drift goes into every reading of the board."""
        if raw.t_ns < self._cold_due_ns.get(instrument, raw.t_ns):
            return []
        self._cold_due_ns[instrument] = raw.t_ns + COLD_JUNCTION_NS
        return [
            Event(
                t_ns=raw.t_ns,
                kind="cold_junction",
                source="bench",
                port=instrument,
                data={"temp_c": raw.cold_junction_c},
            )
        ]

    def _notice(self, instrument: str, notice: Notice) -> list[Event]:
        if notice.kind in QUIET:
            return []
        place = (instrument, notice.field or "")
        if self._trouble.get(place) == notice.kind and notice.kind not in ("tare", "mark"):
            return []  # the same trouble goes on: one event when it began is enough
        self._trouble[place] = notice.kind
        channels = self._channels[instrument].get(notice.field or "", [])
        return [
            Event(
                t_ns=notice.t_ns,
                kind=notice.kind,
                source="operator" if notice.kind == "mark" else "bench",
                channel=channels[0][0] if channels else None,
                port=instrument,
                text=notice.text,
            )
        ]

    def _trust(self, instrument: str, reader: LineReader, t_ns: int) -> list[Event]:
        share = reader.bad_share(t_ns)
        bad = share is not None and share > BAD_SHARE
        if bad == (instrument in self._untrusted):
            return []
        (self._untrusted.add if bad else self._untrusted.discard)(instrument)
        text = (
            f"{instrument}: {percent_text(share)} of its lines can't be read; check the baud rate "
            "and the line format"
            if bad
            else f"{instrument}: its lines can be read again"
        )
        return [
            Event(
                t_ns=t_ns,
                kind="bad_lines" if bad else "bad_lines_over",
                source="bench",
                port=instrument,
                text=text,
            )
        ]

"""Every line format spoken through pseudo-terminals: is it recognised, and is every value right?

A format speaks its samples, or what the virtual bench prints; strangers speak what is no format of
a probe or scale. What ``ports`` proposes is then read as the recorder would read it, and each value
is compared with what was sent.

Pseudo-terminals pass every byte whatever the baud rate. So who speaks looks at the rate that the
terminal is set to: at another than its own each byte goes out with its bits turned and the highest
set, and no question is understood. Parity and data bits cannot be told there (7E1 passes for 8N1 of
the same rate); some formats are spoken over RFC 2217 too, which knows them, and over plain TCP.

Until it is recognised each says a value a second, or answers; the time that takes is told by
kind: at a usual setting (`USUAL`), answering, silent, at an odd setting, and once in five seconds.
"""

import os
import pty
import select
import statistics
import termios
import threading
import time
import tty
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace

from logger.model.bench import PortSettings
from logger.model.reading import RawReading
from logger.ports.finding.heard import Heard
from logger.ports.finding.listen import survey
from logger.ports.opening import close_port, open_port, read_chunk
from logger.wire.emit import Emitter
from logger.wire.modbus import on_the_wire, plan_of, request_bytes
from logger.wire.questions import SETTINGS, USUAL, may_be_asked
from logger.wire.reader import LineReader
from logger.wire.samples import sample_bytes
from logger.wire.shapes.shape import Shape, builtin_shapes, shapes_from_text
from logger.wire.shapes.tables import PortLine
from logger.wire.teaching.registers import format_of, matched
from tests.ports.served import Served, garbled
from tests.wire.shapes.proposals import a_proposal_records, a_value_is_whole, tried
from tests.wire.spoilt.judged import Tried
from tests.wire.spoilt.judged import tried as spoilt
from tests.wire.spoilt.speaking import BASES, starts

SHAPES = builtin_shapes()
ALONGSIDE = 8
TIMES = 3
"""How often a line is said before the next one: nobody tares on each line, and two values in strict
turn are those of two probes."""
LISTEN_S = 3.0
READ_S = 1.2
STREAMS, LINES = 5_000, 50_000
"""Made-up streams and lines on which what is proposed and what is read is proved."""
NETWORK = (
    "flag-first comma weight",
    "fixed width weight, trailing question mark",
    "fixed columns weight, blank unit",
    "comma list of 16 probes",
    "one object per line, microvolts",
    "control characters weight, check byte",
)
"""At 9600 8N1, 2400 7E1, 1200 7O1, 19200, 115200 and 4800 8N1."""
STRANGERS = {
    "a clock and a count": [b"08:15:%02d,%d\r\n" % (n, n) for n in range(40)],
    "a count": [b"%d\r\n" % n for n in range(40)],
    "words": [b"system ok\r\n", b"door closed\r\n"],
    "noise": [bytes((n * 37 + k * 91) % 256 for k in range(40)) for n in range(40)],
    "a satellite receiver": [b"$GPGGA,081500,,,,,0,00,,,M,,M,,*48\r\n"],
    "pressures": [b"1013.%d,1012.%d\r\n" % (n, n) for n in range(9)],
    "tare lines": [b"ST,TR,+  250.0  g\r\n"],
    "broken sensors": [b"-127.00,-127.00\r\n"],
    "just woken sensors": [b"85.00\r\n"],
}


@dataclass
class Spoken:
    """One format on its pseudo-terminal, and the values it may give."""

    name: str
    lines: list[bytes]
    right: set[float]
    line: PortLine
    reply: Callable[[bytes], bytes] | None = None
    fixed: int = 0
    each_s: float = 1.0
    kind: str = ""
    took_s: float = 0.0
    stop: threading.Event = field(default_factory=threading.Event)

    def open(self) -> str:
        """Return the path of the terminal, on which it speaks from now on."""
        self.main, side = pty.openpty()
        tty.setraw(side)
        os.set_blocking(self.main, False)
        self._side = side
        self._thread = threading.Thread(target=self._speak, daemon=True)
        self._thread.start()
        return os.ttyname(side)

    def close(self) -> None:
        """Fall silent."""
        self.stop.set()
        self._thread.join()
        os.close(self.main)
        os.close(self._side)

    def _speak(self) -> None:
        number, asked, last_s = 0, b"", 0.0
        while not self.stop.wait(0.01):
            ready, room, _ = select.select([self.main], [self.main], [], 0.05)
            if ready:
                came = os.read(self.main, 4096)
                asked = asked + came if self._right() else b""
            if self.reply is not None:
                answer = self.reply(asked)
                if answer:
                    os.write(self.main, answer)
                    asked = b""
                elif len(asked) > 64 or (self.fixed == 0 and asked[-1:] in (b"\n", b"\r")):
                    asked = b""
            elif room and self.lines and time.monotonic() >= last_s + self.each_s:
                said = self.lines[number % len(self.lines)]
                os.write(self.main, said if self._right() else garbled(said))
                number += 1
                last_s = time.monotonic()

    def _right(self) -> bool:
        """Whether the terminal is set to its own rate."""
        return bool(termios.tcgetattr(self.main)[4] == getattr(termios, f"B{self.line.baud}"))


def spoken_of(shape: Shape) -> Spoken:
    """Return a format as it will be spoken."""
    line = shape.port
    if shape.sample:
        lines = reports_of(shape)
        right = {value for sample in shape.sample for value in sample.gives.values()}
    else:
        usual = {"mass": 123.5, "temperature": 21.5, "emf": 812.5}
        sent = {f: usual[c.quantity] + n for n, (f, c) in enumerate(shape.channel.items())}
        emitter = Emitter(shape)
        right = set(sent.values())
        if shape.decode == "modbus":
            ascii_ = shape.transmission == "ascii"
            return Spoken(
                shape.name,
                [],
                right,
                line,
                lambda said: emitter.reply(said[said.rfind(b":") if ascii_ else -8 :], sent),
                0 if ascii_ else 8,
            )
        lines = [emitter.line(sent)]
        if shape.asks:
            asks = [
                q.send.encode("latin-1") for q in (shape.identify, shape.ask) if q and q != "none"
            ]
            return Spoken(
                shape.name,
                lines,
                right,
                line,
                lambda said: next((emitter.reply(q, sent) for q in asks if said.endswith(q)), b""),
            )
    if shape.asks:
        question = shape.ask.send.encode("latin-1") if shape.ask != "none" else b""
        turn = iter(range(1_000_000))
        good = [sample_bytes(shape, sample) for sample in shape.sample if sample.gives]
        return Spoken(
            shape.name,
            lines,
            right,
            line,
            lambda said: good[next(turn) // TIMES % len(good)] if said.endswith(question) else b"",
        )
    return Spoken(shape.name, lines, right, line)


def reports_of(shape: Shape) -> list[bytes]:
    """Return what is said each second: the samples up to the next one with a value."""
    found, report = [], b""
    for sample in shape.sample:
        report += sample_bytes(shape, sample)
        if sample.gives:
            found.append(report)
            report = b""
    return [one for one in [*found[:-1], found[-1] + report] for _ in range(TIMES)]


def heard_with(heard: Heard, one: Spoken | Served) -> tuple[Heard, list[float]]:
    """Answer what is asked about unit and factor, and read as proposed: the values."""
    own = SHAPES
    if heard.registers and one.name in SHAPES:
        heard, own = _with_factors(heard, SHAPES[one.name], one.right)
    if heard.units and one.name in SHAPES:
        heard = heard.in_unit(SHAPES[one.name].channel[heard.fields[0]].sent_unit, SHAPES)
    if heard.shape is None or heard.units:
        return heard, []
    shape = own[heard.shape]
    reader = LineReader(shape, settings=PortSettings(), delay_s=0.0)
    port = open_port(heard.device, one.line, read_s=0.1)
    if isinstance(one, Spoken):
        one.each_s = 0.04
    values: list[float] = []
    ends = time.monotonic() + READ_S
    try:
        while time.monotonic() < ends:
            asked = b""
            if shape.decode == "modbus":
                asked = on_the_wire(shape, request_bytes(shape.device, plan_of(shape)[0][0]))
            elif shape.ask != "none":
                asked = shape.ask.send.encode("latin-1")
            if asked:
                port.write(asked)
            came = read_chunk(port)
            while asked and not came and time.monotonic() < ends:
                came = read_chunk(port)
            if asked:
                came += read_chunk(port)
            if shape.decode == "modbus":
                came = asked + came
            values += [
                o.value
                for o in reader.feed(came, time.monotonic_ns())
                if isinstance(o, RawReading) and o.value is not None and o.field in heard.fields
            ]
    finally:
        close_port(port)
    return heard, values


def _with_factors(heard: Heard, shape: Shape, right: set[float]) -> tuple[Heard, dict[str, Shape]]:
    """Answer what the display shows: the values that were sent."""
    unit = next(iter(shape.channel.values())).sent_unit
    registers = matched(heard.registers, [f"{value} {unit}" for value in sorted(right)], "")
    text = format_of(heard.registers_text, shape.name, registers)
    return heard.said(registers, shape.name), shapes_from_text(text, shape.name)


def served() -> list[Served]:
    """Return formats as they will be spoken behind serial servers."""
    found = []
    for name in NETWORK:
        spoken = spoken_of(SHAPES[name])
        found += [
            Served(name, spoken.lines, spoken.right, SHAPES[name].port, rfc2217)
            for rfc2217 in (True, False)
        ]
    return found


def rows(formats: Sequence[Spoken | Served]) -> Iterator[tuple[Heard, list[float], int]]:
    """Listen to some at a time, and yield what was heard on each, its values, and false ones."""
    for first in range(0, len(formats), ALONGSIDE):
        some = formats[first : first + ALONGSIDE]
        ports = [one.open() for one in some]
        try:
            with ThreadPoolExecutor(len(some)) as pool:
                found = list(pool.map(timed, some, ports))
            for heard, one in zip(found, some, strict=True):
                told, values = heard_with(heard, one)
                wrong = [v for v in values if not any(abs(v - r) < 1e-4 for r in one.right)]
                yield told, values, len(wrong)
        finally:
            for one in some:
                one.close()


def timed(one: Spoken | Served, port: str) -> Heard:
    """Return what is heard on a port, and keep how long it took."""
    started = time.monotonic()
    (heard,) = survey(LISTEN_S, devices=[port], only=True)
    one.took_s = time.monotonic() - started
    return heard


def all_formats() -> list[Spoken]:
    """Return the built-in formats, each with the kind whose time it counts for."""
    found = [spoken_of(shape) for shape in SHAPES.values() if not shape.like]
    for one in found:
        usual = (one.line.baud, one.line.bits, one.line.parity) in SETTINGS[:USUAL]
        one.kind = "odd setting" if not usual else "answers" if one.reply else "speaks"
        ask = SHAPES[one.name].ask
        if ask != "none" and not may_be_asked(ask.send):
            one.kind = "silent"  # on purpose: the question would do something on others
    return found


def elsewhere() -> list[Spoken]:
    """Return some formats at odd rates, once in five seconds, and silent ports."""
    found = []
    for name in NETWORK[:3]:
        for baud in (1200, 38400, 57600):
            line = PortLine(baud=baud)
            found.append(replace(spoken_of(SHAPES[name]), line=line, kind="odd setting"))
        found.append(replace(spoken_of(SHAPES[name]), kind="once in 5 s", each_s=5.0))
    silent = [Spoken("nobody", [], set(), PortLine(), kind="silent") for _ in range(4)]
    return found + silent


def print_times(formats: Sequence[Spoken]) -> None:
    """Print the times to an answer by kind."""
    print(f"{'time to an answer [s]':24} {'ports':>5} {'median':>7} {'95 %':>7} {'worst':>7}")
    for kind in dict.fromkeys(one.kind for one in formats):
        took = sorted(one.took_s for one in formats if one.kind == kind)
        most = took[min(len(took) - 1, round(0.95 * len(took)))]
        middle = statistics.median(took)
        print(f"{kind:24} {len(took):5} {middle:7.1f} {most:7.1f} {took[-1]:7.1f}")


def print_spoilt() -> None:
    """Print what comes of streams in which one thing goes wrong, by what it is."""
    found: dict[str, list[Tried]] = {}
    for shape in SHAPES.values():
        if shape.decode in ("modbus", "binary"):  # no lines: see `tests/wire/test_streams.py`
            continue
        for start in range(len(starts(shape))):
            for one in spoilt(shape, start, start % len(BASES["mass"]), 0):
                found.setdefault(one.mutation or "nothing", []).append(one)
    print(f"{'goes wrong':26} {'streams':>8} {'false':>6} {'no line shows it':>17}")
    for name, some in found.items():
        known, unknown = (sum(map(bool, c)) for c in zip(*(t[1:] for t in some), strict=True))
        print(f"{name:26} {len(some):8} {known:6} {unknown:17}")


def main() -> None:
    """Print the table and its sums."""
    formats, others = all_formats(), elsewhere()
    strangers = [
        Spoken(name, lines, set(), PortLine(), each_s=0.04) for name, lines in STRANGERS.items()
    ]
    alone = read = false = claimed = well = 0
    everybody = [*formats, *others, *strangers]
    for one, (heard, values, wrong) in zip(everybody, rows(everybody), strict=True):
        shape = None if heard.units else heard.shape
        mark = "" if one.name == shape else f"  -> {shape}"
        counts = f"{len(values):5} values {wrong:3} false"
        print(f"{one.name:60} {counts} {one.took_s:5.1f} s{mark}", flush=True)
        false += wrong
        if one in strangers:
            claimed += shape is not None
        elif one in formats:
            alone += one.name == shape
            read += bool(values) and not wrong
        elif one.lines:
            well += bool(values) and not wrong
    print(
        f"{len(formats)} formats: {read} recognised at once with all values right, {alone} of them "
        f"by their own name; {well} of {sum(bool(one.lines) for one in others)} at odd settings or "
        f"once in 5 s; {claimed} of {len(strangers)} strangers taken for one; false values {false}"
    )
    print_times([*formats, *others])
    started, well, all_served = time.monotonic(), 0, served()
    for far, (heard, values, wrong) in zip(all_served, rows(all_served), strict=True):
        how = "RFC 2217" if far.rfc2217 else "TCP"
        counts = f"{len(values):5} values {wrong:3} false"
        print(f"{how:9} {far.name:50} {counts} {far.took_s:5.1f} s  -> {heard.shape}", flush=True)
        well += bool(values) and not wrong
    print(
        f"behind serial servers: {well} of {len(all_served)} recognised with all values right, "
        f"{time.monotonic() - started:.0f} s for all"
    )
    print_spoilt()
    tried(a_proposal_records, STREAMS, again=False)
    tried(a_value_is_whole, LINES, again=False)
    print(f"{STREAMS} streams: every proposal records; {LINES} lines: every value is a whole one")

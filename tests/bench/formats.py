"""Every line format spoken through pseudo-terminals: is it recognised, and is every value right?

A format speaks its samples, or what the virtual bench prints; strangers speak what is no format of
a probe or scale. What ``ports`` proposes is then read as the recorder would read it, and each value
is compared with what was sent. Pseudo-terminals pass every byte whatever the baud rate; some
formats are spoken over RFC 2217 too, where another setting than their own garbles them, and over
plain TCP.
"""

import os
import pty
import select
import threading
import time
import tty
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from logger.model.bench import PortSettings
from logger.model.reading import RawReading
from logger.ports import listen
from logger.ports.heard import Heard
from logger.ports.opening import close_port, open_port, read_chunk
from logger.wire.emit import Emitter
from logger.wire.modbus import plan_of, request_bytes
from logger.wire.reader import LineReader
from logger.wire.samples import sample_bytes
from logger.wire.shapes.shape import Shape, builtin_shapes
from tests.ports.served import Served

SHAPES = builtin_shapes()
ALONGSIDE = 8
LISTEN_S = 3.0
READ_S = 1.2
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
    reply: Callable[[bytes], bytes] | None = None
    fixed: int = 0
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
        number, asked = 0, b""
        while not self.stop.wait(0.02):
            ready, room, _ = select.select([self.main], [self.main], [], 0.05)
            if ready:
                asked += os.read(self.main, 4096)
            if self.reply is not None:
                answer = self.reply(asked)
                if answer:
                    os.write(self.main, answer)
                    asked = b""
                elif len(asked) > 64 or (self.fixed == 0 and asked[-1:] in (b"\n", b"\r")):
                    asked = b""
            elif room and number % 2 == 0:
                os.write(self.main, self.lines[number // 2 % len(self.lines)])
            number += 1


def spoken_of(shape: Shape) -> Spoken:
    """Return a format as it will be spoken."""
    if shape.sample:
        lines = [sample_bytes(shape, sample) for sample in shape.sample]
        right = {value for sample in shape.sample for value in sample.gives.values()}
    else:
        usual = {"mass": 123.5, "temperature": 21.5, "emf": 812.5}
        sent = {f: usual[c.quantity] + n for n, (f, c) in enumerate(shape.channel.items())}
        emitter = Emitter(shape)
        right = set(sent.values())
        if shape.decode == "modbus":
            asked = {request_bytes(shape.device, r) for r, _ in plan_of(shape)}
            return Spoken(
                shape.name,
                [],
                right,
                lambda said: next((emitter.reply(q, sent) for q in asked if said.endswith(q)), b""),
                8,
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
                lambda said: next((emitter.reply(q, sent) for q in asks if said.endswith(q)), b""),
            )
    if shape.asks:
        question = shape.ask.send.encode("latin-1") if shape.ask != "none" else b""
        turn = iter(range(1_000_000))
        good = [line for line, sample in zip(lines, shape.sample, strict=True) if sample.gives]
        return Spoken(
            shape.name,
            lines,
            right,
            lambda said: good[next(turn) % len(good)] if said.endswith(question) else b"",
        )
    return Spoken(shape.name, lines, right)


def heard_with(heard: Heard, one: Spoken | Served) -> tuple[Heard, list[float]]:
    """Answer what is asked about the unit, and read as proposed: the values."""
    if heard.units and one.name in SHAPES:
        heard = heard.in_unit(SHAPES[one.name].channel[heard.fields[0]].sent_unit, SHAPES)
    if heard.shape is None or heard.units:
        return heard, []
    shape = SHAPES[heard.shape]
    reader = LineReader(shape, settings=PortSettings(), delay_s=0.0)
    port = open_port(heard.device, shape.port.model_copy(update={"settle_s": 0.0}), read_s=0.1)
    values: list[float] = []
    ends = time.monotonic() + READ_S
    try:
        while time.monotonic() < ends:
            asked = b""
            if shape.decode == "modbus":
                asked = request_bytes(shape.device, plan_of(shape)[0][0])
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


def table(formats: Sequence[Spoken | Served]) -> Iterator[tuple[str, str | None, int, int]]:
    """Yield name, proposed format, values and false values of each."""
    for first in range(0, len(formats), ALONGSIDE):
        some = formats[first : first + ALONGSIDE]
        ports = [one.open() for one in some]
        try:
            for heard, one in zip(listen.survey(LISTEN_S, devices=ports), some, strict=True):
                found, values = heard_with(heard, one)
                wrong = [v for v in values if not any(abs(v - r) < 1e-4 for r in one.right)]
                yield one.name, None if found.units else found.shape, len(values), len(wrong)
        finally:
            for one in some:
                one.close()


def main() -> None:
    """Print the table and its sums."""
    listen.listed_ports = list  # type: ignore[assignment]  # no real port is opened
    formats = [spoken_of(shape) for shape in SHAPES.values() if not shape.like]
    strangers = [Spoken(name, lines, set()) for name, lines in STRANGERS.items()]
    alone = read = false = claimed = 0
    for name, shape, values, wrong in table([*formats, *strangers]):
        mark = "" if name == shape else f"  -> {shape}"
        print(f"{name:60} {values:5} values {wrong:3} false{mark}", flush=True)
        false += wrong
        if name in STRANGERS:
            claimed += shape is not None
        else:
            alone += name == shape
            read += bool(values) and not wrong
    print(
        f"{len(formats)} formats: {read} recognised at once with all values right, {alone} of them "
        f"by their own name; {claimed} of {len(strangers)} strangers taken for one; "
        f"false values {false}"
    )
    started, well, all_served = time.monotonic(), 0, served()
    for one, (name, shape, values, wrong) in zip(all_served, table(all_served), strict=True):
        how = "RFC 2217" if one.rfc2217 else "TCP"
        print(f"{how:9} {name:50} {values:5} values {wrong:3} false  -> {shape}", flush=True)
        well += bool(values) and not wrong
    print(
        f"behind serial servers: {well} of {len(all_served)} recognised with all values right, "
        f"{time.monotonic() - started:.0f} s for all"
    )

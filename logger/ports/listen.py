"""Which ports are there, what speaks on them, and the bench file that fits.

Each port is opened at the settings that line formats know, one after the other, and listened to;
where all is quiet it is asked the questions that shapes know. Ports are listened to side by side,
each in a thread of its own.
"""

import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import serial

from logger.model.errors import PortError
from logger.ports.clock import Clock
from logger.ports.errors import TROUBLE, why
from logger.ports.heard import Heard, bench_text
from logger.ports.identity import Listed, checked, listed_ports, name_of
from logger.ports.opening import close_port, open_port, read_chunk
from logger.ports.registers import RegisterRound
from logger.wire.questions import SETTINGS, may_be_asked
from logger.wire.recognise import LINES, Match, recognise
from logger.wire.shapes.shape import Shape, builtin_shapes
from logger.wire.shapes.tables import PortLine

__all__ = ["Heard", "bench_text", "survey"]
SHORTEST_LISTEN_S = 0.4
PATIENT_S = 5.0
"""Further listening to a port in all where text is heard, until enough lines came [s]: some speak
once a second."""
AGAIN_S = 0.5
TEXT = 0.9
"""Share of the bytes that are text where the baud rate is right."""
MANY = 30
"""Lines after which a format that fits would be known."""
CLEAR = 0.98
"""Share of text in lines that were surely heard at the right setting."""
SLOW_S = 5.5
"""An instrument that speaks once in 5 s is heard within it [s]."""
SLOW_SETTINGS = 4
"""Settings at which a port that stayed silent is listened to so long."""
BYTES_MAX = 8192
TEXT_MAX = 4000
"""Bytes of unknown lines that are kept to teach a format from."""
SAMPLE_MAX = 60


Progress = Callable[[str, int, int], None]


def survey(
    seconds: float,
    *,
    devices: Sequence[str] = (),
    shapes: Mapping[str, Shape] | None = None,
    ask: bool = True,
    only: bool = False,
    progress: Progress | None = None,
) -> list[Heard]:
    """Listen to every port of the system.

    Parameters
    ----------
    seconds : float
        How long each port is listened to in all [s]; never less than 0.4 s at each setting.
    devices : sequence of str
        Further ports by path or URL, which the system does not list (pseudo-terminals,
        ``socket://``).
    shapes : mapping, optional
        Line formats to tell apart; None is the built-in ones.
    ask : bool
        Whether a quiet port is asked anything.
    only : bool
        Whether `devices` are all that is listened to.
    progress : callable, optional
        Told the port, how many of its settings were tried, and of how many; from several threads.

    Raises
    ------
    InputError
        If one of `devices` has no form that is taken.
    """
    known = dict(shapes) if shapes is not None else builtin_shapes()
    there: list[tuple[str, str, str]] = [] if only else [_named(p) for p in listed_ports()]
    there += [(device, device, "") for device in map(checked, devices)]
    found: list[Heard | None] = [None] * len(there)

    def listen(number: int) -> None:
        name, device, description = there[number]
        listener = _Listener(name, device, description, known, ask, progress or _silently)
        found[number] = listener.listen(seconds)

    threads = [threading.Thread(target=listen, args=(n,), daemon=True) for n in range(len(there))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return [heard for heard in found if heard is not None]


def _named(listed: Listed) -> tuple[str, str, str]:
    return name_of(listed), str(listed.device), str(listed.description or "")


class _Listener:
    """Listens to one port at one setting after another until a shape fits."""

    def __init__(
        self,
        name: str,
        device: str,
        description: str,
        shapes: Mapping[str, Shape],
        ask: bool,
        progress: Progress,
    ) -> None:
        self._about = Heard(port=name, device=device, description=description)
        self._device = device
        self._shapes = shapes
        self._ask = ask
        self._progress = progress
        self._patience_s = PATIENT_S
        self._spoilt = False
        """A question without a line feed went out: it may hang before the next one."""

    def listen(self, seconds: float) -> Heard:
        """Try one setting after the other; then wait for one that speaks once in five seconds."""
        lines = self._settings()
        each_s = max(SHORTEST_LISTEN_S, seconds / len(lines))
        clearest = (0.0, b"", lines[0])
        for number, line in enumerate(lines):
            self._progress(self._device, number, len(lines))
            found = self._tried(line, each_s, slowly=False)
            if isinstance(found, Heard):
                return found
            clearest = max(clearest, (_clearness(found), found, line), key=lambda one: one[0])
            if clearest[0] >= CLEAR and _lines(found) > LINES:
                return self._unknown(clearest[1], clearest[2])  # elsewhere it would be garbled
        slow = [clearest[2]] if clearest[0] >= CLEAR else lines[:SLOW_SETTINGS]
        for line in slow if self._ask else ():
            found = self._tried(line, SLOW_S, slowly=True)
            if isinstance(found, Heard):
                return found
            clearest = max(clearest, (_clearness(found), found, line), key=lambda one: one[:1])
        return self._unknown(clearest[1], clearest[2])

    def _settings(self) -> list[PortLine]:
        """Return the line settings to try, those of most line formats first."""
        lines: list[PortLine] = []
        for shape in self._shapes.values():
            line = shape.port.model_copy(update={"settle_s": 0.0})
            if line not in lines:
                lines.append(line)
        lines.sort(key=lambda line: -sum(_alike(s.port, line) for s in self._shapes.values()))
        for baud, bits, parity in SETTINGS:
            line = PortLine.model_validate({"baud": baud, "bits": bits, "parity": parity})
            if not any(_alike(line, known) for known in lines):
                lines.append(line)
        return lines

    def _tried(self, line: PortLine, seconds: float, *, slowly: bool) -> Heard | bytes:
        """Return the instrument found at one setting, or what was wrong, or what came."""
        try:
            port = open_port(self._device, line, read_s=0.1)
        except PortError as cause:
            return replace(self._about, error=str(cause).removeprefix(f"{self._device}: "))
        try:
            if slowly:
                heard, match, identity = self._slowly(port, seconds), None, None
                match = self._best(heard, asked=None)
            else:
                heard, match, identity = self._at(port, line, seconds)
        except PortError as cause:
            return replace(self._about, error=str(cause))
        finally:
            close_port(port)
        return heard if match is None else self._recognised(match, line, heard, identity)

    def _slowly(self, port: serial.Serial, seconds: float) -> bytes:
        """Wait for a first line, and where one is heard for as many as a format needs."""
        heard = self._collect(port, seconds, until=b"\n")
        more = LINES if _speaks(heard) else 0
        for _ in range(more):
            heard += self._collect(port, seconds, until=b"\n")
        return heard

    def _unknown(self, heard: bytes, line: PortLine) -> Heard:
        """Return lines that no format fits, as clear as they were heard."""
        usual = PortLine()
        return replace(
            self._about,
            sample=_shown(heard),
            text=heard[-TEXT_MAX:].decode("latin-1"),
            baud=line.baud if heard else None,
            settings={
                key: getattr(line, key)
                for key in ("bits", "parity", "stop")
                if getattr(line, key) != getattr(usual, key)
            },
        )

    def _recognised(
        self, match: Match, line: PortLine, heard: bytes, identity: str | None
    ) -> Heard:
        shape = self._shapes[match.shape]
        fields = list(match.offered)
        return replace(
            self._about,
            shape=match.shape,
            share=match.share,
            fields=tuple(fields),
            quantity=tuple(shape.channel[f].quantity for f in fields),
            identity=identity,
            units=shape.unsaid,
            left_out=match.left_out,
            baud=line.baud,
            settings={
                key: getattr(line, key)
                for key in ("baud", "bits", "parity", "stop")
                if getattr(line, key) != getattr(shape.port, key)
            },
            sample=_shown(heard),
            text=heard[-TEXT_MAX:].decode("latin-1"),
        )

    def _at(
        self, port: serial.Serial, line: PortLine, seconds: float
    ) -> tuple[bytes, Match | None, str | None]:
        heard = self._collect(port, seconds)
        match = self._best(heard, asked=None)
        while match is None and _speaks(heard) and self._patience_s > 0 and _lines(heard) < MANY:
            self._patience_s -= AGAIN_S
            heard += self._collect(port, AGAIN_S)
            match = self._best(heard, asked=None)
        if match is not None or heard or not self._ask:
            return heard, match, None
        for shape in sorted(self._shapes.values(), key=_place):
            if shape.like or not _alike(shape.port, line):
                continue
            said, identity = self._answer(port, shape, line)
            match = self._best(said, asked=shape.name) if said else None
            if match is not None:
                return said, match, identity
            heard = heard or said
        return heard, None, None

    def _best(self, heard: bytes, *, asked: str | None) -> Match | None:
        """Return what fits best: of lines nobody asked for, or of answers to one question."""
        for match in recognise(heard, self._shapes):
            own = match.shape == asked if asked else not self._shapes[match.shape].asks
            if match.claimed and own:
                return match
        return None

    def _answer(
        self, port: serial.Serial, shape: Shape, line: PortLine
    ) -> tuple[bytes, str | None]:
        """Ask a port as a shape asks, and return what came and who it says it is."""
        identity = None
        if shape.decode == "modbus":
            self._spoilt = True
            questions = RegisterRound(port, shape, line, Clock().now_ns)
            said = self._call(questions.ask, 0)[0]
            more = range(LINES - 1) if said else ()  # a silent port is asked once
            return said + b"".join(self._call(questions.ask, 0)[0] for _ in more), None
        if shape.identify is not None and may_be_asked(shape.identify.send):
            said = self._question(port, shape.identify.send, shape.identify.timeout_s)
            identity = said.decode("ascii", "replace").strip() or None
            if identity is None:
                return b"", None
        if shape.begin and all(map(may_be_asked, shape.begin)):
            return self._begun(port, shape), identity
        if shape.ask == "none" or not all(map(may_be_asked, shape.ask.questions)):
            return b"", None
        said = b""
        for number in range(LINES + 1):  # the first may be the rest of a line
            one = b"".join(
                self._question(port, text, shape.ask.timeout_s) for text in shape.ask.questions
            )
            if not one and not (number == 0 and self._spoilt):
                break
            said += one
        self._spoilt |= shape.ask.send[-1] != "\n"
        return said, identity

    def _begun(self, port: serial.Serial, shape: Shape) -> bytes:
        """Send what makes an instrument speak, and return what it said."""
        for text in shape.begin:
            self._call(port.write, text.encode("latin-1"))
        said = b""
        for _ in range(LINES + 1):
            one = self._collect(port, AGAIN_S, until=b"\n")
            if not one:
                break
            said += one
        return said

    def _question(self, port: serial.Serial, text: str, timeout_s: float) -> bytes:
        self._call(port.write, text.encode("latin-1"))
        return self._collect(port, timeout_s, until=b"\n")

    def _collect(self, port: serial.Serial, seconds: float, until: bytes | None = None) -> bytes:
        heard, deadline = b"", time.monotonic() + seconds
        while time.monotonic() < deadline and len(heard) < BYTES_MAX:
            heard += self._call(read_chunk, port)
            if until is not None and until in heard:
                break
        return heard

    def _call(self, call: Any, *args: Any) -> Any:
        try:
            return call(*args)
        except TROUBLE as cause:
            raise why(cause, self._device, opening=False) from cause


def _silently(_device: str, _number: int, _of: int) -> None:
    """Tell nobody."""


def _alike(one: PortLine, other: PortLine) -> bool:
    return (one.baud, one.bits, one.parity) == (other.baud, other.bits, other.parity)


def _place(shape: Shape) -> tuple[bool, bool]:
    """Return when a format asks: bytes without a line end would spoil the next question."""
    open_ended = shape.ask != "none" and shape.ask.send[-1] != "\n"
    return shape.decode == "modbus", open_ended


def _lines(heard: bytes) -> int:
    return max(heard.count(b"\n"), heard.count(b"\r"))


def _speaks(heard: bytes) -> bool:
    return _clearness(heard) > TEXT


def _clearness(heard: bytes) -> float:
    """Return the share of the bytes that are text."""
    text = sum(32 <= byte < 127 or byte in b"\r\n\t\x02\x03" for byte in heard)
    return text / len(heard) if heard else 0.0


def _shown(heard: bytes) -> str:
    lines = heard.replace(b"\r", b"").split(b"\n")
    line = lines[1] if len(lines) > 2 else lines[0]
    return line.decode("ascii", "backslashreplace")[:SAMPLE_MAX]

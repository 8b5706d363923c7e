"""Questions to an instrument that nobody knows: knocked with, then asked one by one.

To knock is to send one question after the other without waiting for each answer in full: where
nothing comes, nobody is there, at a fraction of the time. Where something comes, each question is
asked again by itself. A question goes out only if it reads and does nothing else.
"""

import time
from collections.abc import Callable, Iterable
from typing import Any

import serial

from logger.ports.clock import Clock
from logger.ports.errors import TROUBLE, why
from logger.ports.opening import read_chunk
from logger.ports.registers import RegisterRound
from logger.wire.modbus import on_the_wire, plan_of, request_bytes
from logger.wire.questions import may_be_asked
from logger.wire.recognise import LINES, recognise
from logger.wire.shapes.shape import Shape
from logger.wire.shapes.tables import PortLine

KNOCK_S = 0.1
"""Time to the next question while nothing answers [s]."""
TAIL_S = 0.6
"""Wait for an answer after the last one [s]."""
BEGUN_S = 0.5
"""Wait for each line of an instrument that was told to speak [s]."""
BYTES_MAX = 8192


class Asking:
    """Asks on one open port.

    Parameters
    ----------
    port : Serial
        Open; used by this thread alone.
    device : str
        Its name, for errors.
    line : PortLine
        The settings that it is open at.
    """

    def __init__(self, port: serial.Serial, device: str, line: PortLine) -> None:
        self._port, self._device, self.line = port, device, line
        self._spoilt = True
        """What went out before, at this setting or another, may hang before the next question."""

    def collect(self, seconds: float, until: bytes | None = None) -> bytes:
        """Return what comes in some time.

        Parameters
        ----------
        seconds : float
            The time [s].
        until : bytes, optional
            What ends it early.
        """
        heard, deadline = b"", time.monotonic() + seconds
        while time.monotonic() < deadline and len(heard) < BYTES_MAX:
            heard += self._call(read_chunk, self._port)
            if until is not None and until in heard:
                break
        return heard

    def send(self, data: bytes) -> None:
        """Send a question."""
        self._call(self._port.write, data)

    def knock(self, questions: Iterable[bytes]) -> bytes:
        """Send questions one after the other, and return what came; ends with the first answer."""
        came = b""
        for question in questions:
            self.send(question)
            came = self.collect(KNOCK_S)
            if came:
                break
        return came or self.collect(TAIL_S, until=b"\n")

    def answer(self, shape: Shape) -> tuple[bytes, str | None]:
        """Ask as a format asks, and return what came and who it says it is."""
        identity = None
        if shape.decode == "modbus":
            questions = RegisterRound(self._port, shape, self.line, Clock().now_ns)
            said = self._call(questions.ask, 0)[0]
            more = range(LINES - 1) if said else ()  # a silent device is asked once
            return said + b"".join(self._call(questions.ask, 0)[0] for _ in more), None
        if shape.identify is not None and may_be_asked(shape.identify.send):
            said = self._question(shape.identify.send, shape.identify.timeout_s)
            identity = said.decode("ascii", "replace").strip() or None
            if identity is None:
                return b"", None
        if shape.begin and all(map(may_be_asked, shape.begin)):
            return self._begun(shape), identity
        if shape.ask == "none" or not all(map(may_be_asked, shape.ask.questions)):
            return b"", None
        said = b""
        for number in range(LINES + 1):  # the first may be the rest of a line
            one = b"".join(
                self._question(text, shape.ask.timeout_s) for text in shape.ask.questions
            )
            if not one and not (number == 0 and self._spoilt):
                break
            said += one
        self._spoilt = shape.ask.send[-1] != "\n"
        return said, identity

    def says_anyway(self, shape: Shape) -> bool:
        """Whether an instrument says to an empty line what it answers to the question of a format.

        Then it is no answer, and what the question says of the unit is not known.
        """
        self.send(b"\r\n")
        said = self.collect(TAIL_S)
        heard = b"\n" + (said.rstrip(b"\r\n") + b"\r\n") * LINES
        return bool(said.strip()) and any(m.lines for m in recognise(heard, {shape.name: shape}))

    def _begun(self, shape: Shape) -> bytes:
        """Send what makes an instrument speak, and return what it said."""
        for text in shape.begin:
            self.send(text.encode("latin-1"))
        said = b""
        for _ in range(LINES + 1):
            one = self.collect(BEGUN_S, until=b"\n")
            if not one:
                break
            said += one
        return said

    def _question(self, text: str, timeout_s: float) -> bytes:
        self.send(text.encode("latin-1"))
        return self.collect(timeout_s, until=b"\n")

    def _call(self, call: Callable[..., Any], *args: Any) -> Any:
        try:
            return call(*args)
        except TROUBLE as cause:
            raise why(cause, self._device, opening=False) from cause


def knocks_of(shapes: Iterable[Shape]) -> list[bytes]:
    """Return what to knock with, those with a line feed first; the first once more at the end.

    Junk from other settings may hang before the first question, so that it is not understood.
    """
    found: dict[bytes, None] = {}
    for shape in shapes:
        asked = shape.ask.questions[:1] if shape.ask != "none" else ()
        for text in ([shape.identify.send] if shape.identify else [*shape.begin[:1], *asked])[:1]:
            if may_be_asked(text):
                found[text.encode("latin-1")] = None
        if shape.decode == "modbus":
            for request, _ in plan_of(shape):
                found[on_the_wire(shape, request_bytes(shape.device, request))] = None
    ordered = sorted(found, key=lambda question: question[-1:] != b"\n")
    return [*ordered, *ordered[:1]]

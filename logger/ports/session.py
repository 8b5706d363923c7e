"""One open port: who is there, then bytes in, questions out, until it ends.

Port calls raise `PortError` through one door; bytes are looked at outside it, so that a bug never
looks like a pulled plug. Lines are read only until it is known who is there; after that the bytes
go on as they came, and of an instrument that is asked its lines are counted. Runs in the port's own
thread.
"""

import re
import threading
import time
from collections.abc import Callable
from typing import Any

import serial

from logger.model.bench import Instrument
from logger.ports.batch import PortBatch, Sink, port_event
from logger.ports.clock import Clock
from logger.ports.errors import TROUBLE, PortLostError, why
from logger.ports.opening import first_byte, rest_of_chunk
from logger.ports.probation import Probation
from logger.ports.registers import RegisterRound
from logger.wire.binary.frames import BinaryFramer
from logger.wire.framing import framer_of
from logger.wire.reader import QUIET_NS, line_of, reader_of
from logger.wire.shapes.shape import Shape
from logger.wire.shapes.tables import Ask

SILENT_ASKS = 3
"""Questions in a row without an answer before it is said."""


class WrongDeviceError(Exception):
    """Another instrument took the port's name."""


class Session:
    """What happens between the opening and the closing of one port.

    Parameters
    ----------
    instrument : Instrument
        Whose port it is.
    shape : Shape
        Its line format, with its own device number.
    port : Serial
        Open; owned by the calling thread.
    clock, origin_ns
        The run's axis is ``clock.now_ns() - origin_ns``.
    sink : callable
        Takes batches.
    stop : Event
        Set from another thread to end the session.
    identity : str or None
        Answer that this instrument must give to the identity question.
    proven : bool
        Whether it is opened for the first time, or surely the device of before; else its lines must
        read before any of them counts.
    """

    def __init__(
        self,
        instrument: Instrument,
        shape: Shape,
        port: serial.Serial,
        *,
        clock: Clock,
        origin_ns: int,
        sink: Sink,
        stop: threading.Event,
        identity: str | None,
        proven: bool = True,
    ) -> None:
        self._instrument = instrument
        self._shape = shape
        self._port = port
        self._clock = clock
        self._origin_ns = origin_ns
        self._sink = sink
        self._stop = stop
        self.identity = identity
        self._proven = proven
        binary = shape.decode == "binary"
        self._framer = BinaryFramer(shape) if binary else framer_of(shape.frame)
        self._framer.reset(begins=True)
        self._lines = 0
        """Lines of an instrument that is asked; every whole line ends a question."""
        self._silent = 0
        self.accepted = False
        """Whether bytes of this session are handed on."""
        self.fits = False
        """Whether its lines read."""
        self.says = "waiting for its first line"
        self.opened_ns = self.now_ns()
        self._probation = Probation(reader_of(instrument, shape), shape.name, self.opened_ns)

    def now_ns(self) -> int:
        """Return the time on the run's axis [ns]."""
        return self._clock.now_ns() - self._origin_ns

    def run(self) -> None:
        """Read and ask until stopped.

        Raises
        ------
        PortError
            When the port is lost.
        WrongDeviceError
            When another instrument answers.
        """
        ask = self._shape.ask
        if self._shape.asks or self._shape.begin or self._shape.identify is not None:
            self._settle()
            self._introduce(ask if ask != "none" else None)
        if self._shape.decode == "modbus":
            self._poll_registers()
        elif ask != "none":
            self._poll(ask)
        else:
            while not self._stop.is_set():
                self._read_once()

    def close(self) -> None:
        """Say that the port is closed, if it was said that it opened."""
        if self.accepted:
            self._sink(PortBatch(self._instrument.id, self.now_ns(), "close"))

    def _event(self, kind: str, text: str) -> None:
        self._sink(port_event(self._instrument.id, self.now_ns(), kind, text))

    def _call(self, call: Callable[..., Any], *args: Any) -> Any:
        """Call the port: the one place where its trouble is caught."""
        try:
            return call(*args)
        except TROUBLE as cause:
            raise why(cause, self._instrument.port, opening=False) from cause

    def _read_once(self) -> bool:
        """Read one chunk and hand it on; False when nothing came in the port's wait."""
        data = self._call(first_byte, self._port)
        if not data:
            return False
        t_ns = self.now_ns()
        rest: bytes = self._call(rest_of_chunk, self._port)
        self._take(data + rest, t_ns)
        self._clock.took(len(data) + len(rest))
        return True

    def _take(self, data: bytes, t_ns: int) -> None:
        if self._shape.ask != "none":
            self._lines += len(self._framer.feed(data))
        if self.accepted:
            self._sink(PortBatch(self._instrument.id, t_ns, "data", data))
            return
        verdict = self._probation.take(t_ns, data)
        if verdict == "wrong":
            raise WrongDeviceError(
                f"{self._instrument.port}: its lines look like {self._probation.other!r}, "
                f"not like {self._shape.name!r}; nothing from it is recorded"
            )
        if verdict == "unreadable" and not self._proven:
            raise WrongDeviceError(
                f"{self._instrument.port}: its lines no longer fit {self._shape.name!r}; "
                "nothing is recorded until they do"
            )
        if verdict != "waiting":
            self.fits = verdict == "right"
            self._accept(
                "" if verdict == "right" else "its lines can't be read; check the baud rate"
            )

    def _accept(self, says: str) -> None:
        self.accepted, self.says = True, says
        name = self._instrument.id
        self._sink(PortBatch(name, self.opened_ns, "open"))
        who = f" ({self.identity})" if self.identity else ""
        self._event("connected", f"{self._instrument.port}: connected{who}")
        for held in self._probation.released():
            self._sink(PortBatch(name, held.t_ns, "data", held.data))

    def _settle(self) -> None:
        """Give a board that boots when its port opens its time, listening.

        Never less than the quiet moment after which the reader takes the next byte for the first of
        a line: else the first answer would be lost.
        """
        boot_ns = round(self._shape.port.settle_s * 1e9)
        until_ns = self.opened_ns + max(boot_ns, QUIET_NS + QUIET_NS // 10)
        while self.now_ns() < until_ns and not self._stop.is_set():
            if not self._waiting():
                self._clock.wait(self._stop, min(0.05, (until_ns - self.now_ns()) / 1e9))
            else:
                self._read_once()

    def _introduce(self, ask: Ask | None) -> None:
        for text in (*self._shape.begin, *(ask.init if ask is not None else ())):
            self._send(text.encode("latin-1"))
        question = self._shape.identify
        if question is None:
            return
        self._send(question.send.encode("latin-1"))
        fits = re.compile(question.pattern, re.ASCII).fullmatch
        end = self._shape.frame.end.encode("latin-1")
        heard, deadline = b"", time.monotonic() + question.timeout_s
        while time.monotonic() < deadline and not self._stop.is_set():
            heard += self._call(first_byte, self._port) + self._call(rest_of_chunk, self._port)
            for line in heard.split(end)[:-1][-50:]:
                text = line.decode("ascii", "replace").strip()
                if fits(text[: self._shape.frame.max]):
                    self._check_identity(text)
                    return
            heard = heard[-4096:]
        if not self._stop.is_set():
            raise PortLostError(
                f"{self._instrument.port}: does not answer {question.send.strip()!r}; "
                "check cable, baud rate and that it is switched on"
            )

    def _check_identity(self, answer: str) -> None:
        if self.identity is not None and self.identity != answer:
            raise WrongDeviceError(
                f"{self._instrument.port}: says it is {answer!r}, expected {self.identity!r}; "
                "nothing from it is recorded"
            )
        self.identity = answer

    def _send(self, data: bytes) -> None:
        self._call(self._port.write, data)

    def _waiting(self) -> int:
        found: int = self._call(lambda: self._port.in_waiting)
        return found

    def _slots(self, every_s: float) -> "Slots":
        return Slots(self._clock, self._stop, every_s)

    def _poll(self, ask: Ask) -> None:
        """Ask at absolute times, never while a question is open."""
        slots = self._slots(ask.every_s)
        while slots.wait():
            answered = [self._answers(question, ask.timeout_s) for question in ask.questions]
            if self._stop.is_set():
                return
            silent = ask.questions[answered.index(False)] if False in answered else ask.send
            self._count_silence(all(answered), silent.strip())

    def _answers(self, question: str, timeout_s: float) -> bool:
        """Ask one question and read until an answer came; False where none came in time."""
        while self._waiting() and not self._stop.is_set():
            self._read_once()
        before = self._lines
        self._send(question.encode("latin-1"))
        deadline = time.monotonic() + timeout_s
        while self._lines == before and time.monotonic() < deadline and not self._stop.is_set():
            self._read_once()
        return self._lines > before

    def _poll_registers(self) -> None:
        line = line_of(self._shape, self._instrument.settings)
        questions = RegisterRound(self._port, self._shape, line, self.now_ns)
        slots = self._slots(self._shape.every_s)
        while slots.wait():
            for number in range(questions.size):
                while self._waiting() and not self._stop.is_set():
                    self._read_once()
                data, t_ns = self._call(questions.ask, number)
                if data:
                    self._take(data, t_ns)
                self._count_silence(bool(data), f"device {self._shape.device}")
                if self._stop.is_set():
                    return

    def _count_silence(self, answered: bool, question: str) -> None:
        self._silent = 0 if answered else self._silent + 1
        if answered and self.says.startswith("no answer"):
            self.says = ""
        if self._silent == SILENT_ASKS:
            self.says = f"no answer to {question!r}; check cable, baud rate and device number"
            self._event("error", f"{self._instrument.port}: {self.says}")


class Slots:
    """Times ``t0 + k * every_s``: a late answer skips a slot and shifts none.

    Parameters
    ----------
    clock : Clock
        Run time.
    stop : Event
        Ends the waiting.
    every_s : float
        Period [s of run time].
    """

    def __init__(self, clock: Clock, stop: threading.Event, every_s: float) -> None:
        self._clock = clock
        self._stop = stop
        self._every_ns = max(1, round(every_s * 1e9))
        self._start_ns = clock.now_ns()
        self._number = 0

    def wait(self) -> bool:
        """Wait for the next slot; False when stopped."""
        now_ns = self._clock.now_ns()
        if self._number:
            ahead = -(-(now_ns - self._start_ns) // self._every_ns)  # the next slot, rounded up
            self._number = max(self._number, ahead)
        due_ns = self._start_ns + self._number * self._every_ns
        self._number += 1
        if due_ns > now_ns:
            return not self._clock.wait(self._stop, (due_ns - now_ns) / 1e9)
        return not self._stop.is_set()

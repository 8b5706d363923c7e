"""One virtual instrument over a real port: a thread that plays a simulated run into it.

It speaks line by line, or answers when it is asked, and acts out the faults of its line. A line
leaves when its last character would be through: sample time, filter delay, then ten bits a
character. All times are kept against one origin, so nothing drifts at any speed.
"""

import contextlib
import select
import socket
import threading
import time
from collections.abc import Iterable
from typing import Any

import numpy as np

from logger.virtual.lines.batch_clock import BatchClock
from logger.virtual.lines.line_faults import (
    ENDLESS_BYTES,
    FLOOD_LINES_PER_S,
    JUNK,
    spoiled,
    stranger_line,
)
from logger.virtual.lines.outgoing import Outgoing
from logger.virtual.lines.printed import Printer
from logger.virtual.lines.questions import Questions
from logger.virtual.lines.terminals import Terminal
from logger.virtual.readings.faults import Fault

_BITS = 10
"""Start, eight data, stop."""
_LONGEST_WAIT_S = 1.0
_TICK_S = 0.02
"""Real time between two bursts of a flood [s]."""
_SLICE_S = 0.004
_UNREAD_S = 2.0
"""How long a reader may take to read what is on its way, when the batch begins again [s]."""
_AT_ONCE = 400
_GONE = ("unplug", "wrong_device")
_BURSTS = ("endless", "flood")


class VirtualInstrument:
    """One instrument, its port and its thread.

    Parameters
    ----------
    printer : Printer
        What it says.
    terminal : Terminal
        Through what.
    clock : BatchClock
        Shared by the bench.
    faults : iterable of Fault
        All of the run; those of this line are acted out.
    seed : int
        For garbage.
    strict_baud : bool
        Come out as garbage while the reader listens at another baud rate.
    """

    def __init__(
        self,
        printer: Printer,
        terminal: Terminal,
        clock: BatchClock,
        faults: Iterable[Fault],
        seed: int,
        *,
        strict_baud: bool = False,
    ) -> None:
        self.printer = printer
        self.terminal = terminal
        self.sent_lines = 0
        self._clock = clock
        self._seed = seed
        self._strict_baud = strict_baud
        self._faults = [f for f in faults if f.target == printer.wiring.id]
        self._baud = printer.wiring.baud
        self._inner, self._outer = socket.socketpair()
        self._inner.setblocking(False)
        self._outer.setblocking(False)
        self._stopping = threading.Event()
        self._turned = threading.Condition()
        self._hushed_s: float | None = None
        self._quiet = False
        self._thread = threading.Thread(
            target=self._run, name=f"virtual {printer.wiring.id}", daemon=True
        )
        # What is on its way stays so when the batch begins again: a question is answered once.
        self._questions = Questions(printer)
        self._outgoing = Outgoing(terminal)
        self._rewind()

    # -- from outside -----------------------------------------------------------------------

    @property
    def sent_bytes(self) -> int:
        """Bytes that the port took."""
        return self._outgoing.sent_bytes

    def start(self) -> None:
        """Begin to speak."""
        self._thread.start()

    def wake(self) -> None:
        """Look at the clock again."""
        with contextlib.suppress(BlockingIOError):
            self._outer.send(b"!")

    def hush(self) -> None:
        """Say no more until the batch begins again, and let the reader have what is on its way.

        A line that was cut short would be read as another one, so nothing is thrown away.
        """
        self._quiet, self._hushed_s = False, time.monotonic()
        self.wake()

    def await_quiet(self) -> None:
        """Wait until the reader has all that was sent; return at once when it does not play."""
        with self._turned:
            while not self._quiet and self._thread.is_alive():
                self._turned.wait(_LONGEST_WAIT_S)

    def await_rewound(self) -> None:
        """Wait until it plays the batch that began last; return at once when it does not play."""
        with self._turned:
            while self._seen != self._clock.began and self._thread.is_alive():
                self._turned.wait(_LONGEST_WAIT_S)

    def next_s(self) -> float:
        """Return when its next line has left [s of the batch]."""
        return self._leaves_s()

    def stop(self) -> None:
        """Stop and take the port away."""
        self._stopping.set()
        self.wake()
        if self._thread.is_alive():
            self._thread.join()
        self.terminal.close()
        self._inner.close()
        self._outer.close()

    # -- the thread -------------------------------------------------------------------------

    def _run(self) -> None:
        while not self._stopping.is_set():
            self.turn()
            self._wait()

    def turn(self) -> None:
        """Act out what is due by now."""
        if self._hushed_s is not None and self._seen == self._clock.began:
            self._quiet = self._quiet or self._is_read()
            self._tell()
            return
        if self._seen != self._clock.began:
            self._rewind()
        now_s = self._clock.now_s()
        self._plug(now_s)
        self._listen(now_s)
        if not self.printer.emitter.asks:
            self._speak(now_s)
        self._burst(now_s)
        self._outgoing.flush()

    def _is_read(self) -> bool:
        """Whether the reader has all that was sent, or takes too long to read it."""
        self._outgoing.flush()
        waits = self._outgoing.next_s() is not None or self.terminal.unread() > 0
        return not waits or time.monotonic() > (self._hushed_s or 0.0) + _UNREAD_S

    def _rewind(self) -> None:
        self._rng = np.random.default_rng([self._seed, 6, *self.printer.wiring.id.encode()])
        self._number = 0
        self._line: bytes | None = None
        self._struck: dict[Fault, int] = {}
        self._present: str | None = "self"
        self._next_burst_s = 0.0
        self._endless_left = ENDLESS_BYTES
        self.terminal.replug()
        self._hushed_s = None
        self._seen = self._clock.began
        self._tell()

    def _tell(self) -> None:
        with self._turned:
            self._turned.notify_all()

    def _wait(self) -> None:
        real_s = time.monotonic()
        due_s = [real_s + (_LONGEST_WAIT_S if self._hushed_s is None else _SLICE_S)]
        if not self.printer.emitter.asks and self._hushed_s is None:
            due_s.append(self._clock.real_s(self._leaves_s()))
        queued_s = self._outgoing.next_s()
        if queued_s is not None:
            due_s.append(queued_s)
        now_s = self._clock.now_s()
        for fault in self._faults:
            edges = [t for t in (fault.at_s, fault.until_s) if t > now_s]
            due_s += [self._clock.real_s(t) for t in edges]
            if fault.name in _BURSTS and fault.strikes(now_s):
                due_s.append(max(self._next_burst_s, real_s + 0.001))
        ends: list[Any] = [self._inner]
        number = self.terminal.fileno()
        if number >= 0:
            ends.append(number)
        ready, _, _ = select.select(ends, [], [], max(0.0, min(due_s) - real_s))
        if self._inner in ready:
            with contextlib.suppress(BlockingIOError):
                self._inner.recv(4096)

    def _fault_at(self, t_s: float) -> Fault | None:
        return next((f for f in self._faults if f.strikes(t_s)), None)

    def _plug(self, now_s: float) -> None:
        """Pull the plug or put it back, as the faults have it."""
        fault = self._fault_at(now_s)
        wanted = "self"
        if fault is not None and fault.name in _GONE:
            wanted = "nothing" if fault.name == "unplug" else "other"
        if wanted == self._present:
            return
        self._present = wanted
        self._questions.clear()
        self._outgoing.clear()
        self.terminal.unplug()
        if wanted != "nothing":
            self.terminal.replug()

    # -- speaking ---------------------------------------------------------------------------

    def _leaves_s(self) -> float:
        """When the line of the next sample has left [s of the batch]."""
        if self._line is None:
            self._line = self.printer.line(self._number)
        through_s = len(self._line) * _BITS / self._baud
        return self.printer.time_s(self._number) + self.printer.delay_s + through_s

    def _speak(self, now_s: float) -> None:
        """Send all lines that are due."""
        parts: list[bytes] = []
        for _ in range(_AT_ONCE):
            if self._leaves_s() > now_s:
                break
            line, self._line = self._line or b"", None
            t_s = self.printer.time_s(self._number)
            self._number += 1
            slices = self._struck_line(line, t_s)
            if len(slices) > 1:
                self._outgoing.send(b"".join(parts))
                parts = []
                real_s = time.monotonic()
                for place, piece in enumerate(slices):
                    self._outgoing.later(real_s + place * _SLICE_S, piece)
            elif (last_s := self._outgoing.last_s()) is not None and slices:
                self._outgoing.later(last_s, slices[0])
            else:
                parts += slices
        self._outgoing.send(b"".join(parts))

    def _struck_line(self, line: bytes, t_s: float) -> list[bytes]:
        fault = self._fault_at(t_s)
        self.sent_lines += 1
        if self._strict_baud and self.terminal.baud() not in (None, self._baud):
            return spoiled("wrong_baud", line, 0, False, self._rng)
        if fault is None:
            return [line]
        place = self._struck.get(fault, 0)
        self._struck[fault] = place + 1
        if fault.name == "unplug" or fault.name == "endless":
            return []
        if fault.name == "wrong_device":
            return [stranger_line(self.printer.shape, place)]
        last = not fault.strikes(self.printer.time_s(self._number))
        return spoiled(fault.name, line, place, last, self._rng)

    def _burst(self, now_s: float) -> None:
        """Go on with an endless line or a flood."""
        fault = self._fault_at(now_s)
        real_s = time.monotonic()
        if fault is None or fault.name not in _BURSTS:
            if 0 < self._endless_left < ENDLESS_BYTES:
                self._endless_left = 0
                self._outgoing.forget_rest()
                self.terminal.write(b"\r\n")
            return
        if real_s < self._next_burst_s:
            return
        self._next_burst_s = real_s + _TICK_S
        if fault.name == "flood":
            line = self.printer.line(self.printer.number_at(now_s))
            self._outgoing.send(line * int(FLOOD_LINES_PER_S * _TICK_S))
            return
        each = int(ENDLESS_BYTES * _TICK_S * self._clock.speed / fault.for_s) + 1
        while each > 0 and self._endless_left > 1:
            taken = self.terminal.write(JUNK[: min(each, self._endless_left - 1)])
            if taken <= 0:
                break
            self._endless_left -= taken
            each -= taken

    # -- answering --------------------------------------------------------------------------

    def _listen(self, now_s: float) -> None:
        """Take questions and queue the answers."""
        heard = self.terminal.read()
        if not heard:
            return
        if not self.printer.emitter.asks and self.printer.shape.identify is None:
            return
        for question in self._questions.take(heard, self._number):
            number = self.printer.number_at(now_s - self.printer.delay_s)
            answer = self.printer.reply(question, number)
            if not answer:
                continue
            wait_s = (len(answer) * _BITS / self._baud) / self._clock.speed
            due_s = time.monotonic() + wait_s
            slices = self._struck_line(answer, now_s)
            for place, piece in enumerate(slices):
                self._outgoing.later(due_s + place * _SLICE_S, piece)

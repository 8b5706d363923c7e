"""The thread of a foot switch: a modem line looked at 100 times a second, or a byte.

The switch has a port of its own. A switch whose byte comes in an instrument's stream is read by
that instrument's line format (``means = "mark"``).
"""

import logging
import threading

import serial

from logger.model.bench import Switch
from logger.model.errors import InputError, PortError
from logger.model.state import PortRow
from logger.ports.batch import Sink, port_event
from logger.ports.clock import Clock
from logger.ports.errors import TROUBLE, why
from logger.ports.identity import resolve
from logger.ports.instrument import FIRST_S, LAST_S
from logger.ports.opening import close_port, open_port, read_chunk
from logger.wire.footswitch import ByteMarks, Debounce, Step
from logger.wire.shapes.tables import PortLine

log = logging.getLogger(__name__)

LOOK_S = 0.01
"""Between two looks at the modem line [s, real]."""


class FootSwitchThread:
    """Reads one foot switch; its marks go to a sink as events ``foot_mark`` and ``foot_undo``.

    Parameters
    ----------
    switch : Switch
        From the bench file.
    clock, origin_ns
        The run's axis is ``clock.now_ns() - origin_ns``.
    sink : callable
        Takes each `PortBatch`; must return at once.
    """

    def __init__(self, switch: Switch, clock: Clock, origin_ns: int, sink: Sink) -> None:
        self.switch = switch
        self._clock = clock
        self._origin_ns = origin_ns
        self._sink = sink
        self._stop = threading.Event()
        self._thread = threading.Thread(
            target=self._run, name=f"foot switch {switch.port}", daemon=True
        )
        self._status, self._says = "opening", ""

    def start(self) -> None:
        """Begin to look."""
        self._thread.start()

    def stop(self) -> None:
        """Ask the thread to end."""
        self._stop.set()

    def join(self, timeout: float | None = None) -> None:
        """Wait until the thread has ended, at most `timeout` [s]."""
        if self._thread.ident is not None:
            self._thread.join(timeout)

    def status(self) -> PortRow:
        """Return what the screen shows of the port."""
        return PortRow(
            instrument="foot switch",
            port=self.switch.port,
            status=self._status,
            says=self._says,
        )

    def watch(self, port: serial.Serial) -> None:
        """Look at an open port until stopped.

        Raises
        ------
        PortError
            When the port is lost.
        """
        contact, marks = Debounce(self._clock.speed), None
        if self.switch.byte is not None:
            marks = ByteMarks(self.switch.byte, self._clock.speed)
        while not self._stop.is_set():
            try:
                if marks is not None:
                    data = read_chunk(port)
                else:
                    high = bool(getattr(port, str(self.switch.line)))
            except TROUBLE as cause:
                raise why(cause, self.switch.port, opening=False) from cause
            t_ns = self._clock.now_ns() - self._origin_ns
            if marks is not None:
                self._hand_on(marks.feed(data, t_ns))
                continue
            self._hand_on(contact.feed(high == (self.switch.active == "high"), t_ns))
            self._stop.wait(LOOK_S)

    def _hand_on(self, steps: list[Step]) -> None:
        for step in steps:
            self._sink(port_event(self.switch.port, step.t_ns, step.kind, step.text))

    def _run(self) -> None:
        # DTR and RTS are asserted: one of them feeds the contact.
        line = PortLine(dtr=True, rts=True)
        wait_s = FIRST_S
        while not self._stop.is_set():
            port = None
            try:
                port = open_port(resolve(self.switch.port).device, line)
                self._status, self._says, wait_s = "connected", "", FIRST_S
                self.watch(port)
            except (PortError, InputError) as cause:
                if self._status != "lost":
                    log.warning("%s", cause)
                    t_ns = self._clock.now_ns() - self._origin_ns
                    self._sink(port_event(self.switch.port, t_ns, "lost", str(cause)))
                self._status, self._says = "lost", str(cause)
            except Exception:
                log.exception("a bug in reading the foot switch; its port is opened again")
            finally:
                if port is not None:
                    close_port(port)
            self._stop.wait(wait_s)
            wait_s = min(2 * wait_s, LAST_S)
        self._status = "stopped"

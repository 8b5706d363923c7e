"""The thread of one instrument's port: open, read until it is lost, open again.

Everything that touches the port happens in this thread; others see `status` and set the stop flag.
What was read goes to a sink as `PortBatch`, in order of arrival.
"""

import logging
import threading
from collections.abc import Callable, Iterable

from logger.model.bench import Instrument
from logger.model.errors import InputError, PortError
from logger.model.state import PortRow
from logger.ports.batch import Sink, port_event
from logger.ports.clock import Clock
from logger.ports.errors import NoSuchPortError, PortLostError
from logger.ports.identity import Listed, listed_ports, resolve
from logger.ports.opening import READ_S, close_port, open_port
from logger.ports.sameport import DifferentDeviceError, Mark, is_the_same, mark_of
from logger.ports.session import Session, WrongDeviceError
from logger.wire.reader import line_of
from logger.wire.shapes.shape import Shape

log = logging.getLogger(__name__)

FIRST_S = 0.1
"""Wait before a lost port is tried again [s]; doubled each time..."""
LAST_S = 2.0
"""...up to this [s]."""


class InstrumentThread:
    """Reads one instrument.

    Parameters
    ----------
    instrument : Instrument
        From the bench file.
    shape : Shape
        Its line format.
    clock : Clock
        Run time; its speed is for a virtual bench only.
    origin_ns : int
        The clock at axis time 0 [ns].
    sink : callable
        Takes each `PortBatch`; called from this thread, must return at once.
    listed : callable
        Gives the ports of the system, to find ``usb:`` names.
    """

    def __init__(
        self,
        instrument: Instrument,
        shape: Shape,
        clock: Clock,
        origin_ns: int,
        sink: Sink,
        *,
        listed: Callable[[], Iterable[Listed]] = listed_ports,
    ) -> None:
        self.instrument = instrument
        if instrument.device is not None:
            shape = shape.model_copy(update={"device": instrument.device})
        self._shape = shape
        self._clock = clock
        self._origin_ns = origin_ns
        self._sink = sink
        self._listed = listed
        self._identity = instrument.identity
        self._known: Mark | None = None
        """What the right instrument's device was known by, once its lines have read."""
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"port {instrument.id}", daemon=True)
        self._status = "opening"
        self._says = ""
        self._told = ""
        self._session: Session | None = None

    def start(self) -> None:
        """Begin to open and read."""
        self._thread.start()

    def stop(self) -> None:
        """Ask the thread to end; it closes its port itself, within a quarter of a second."""
        self._stop.set()

    def join(self, timeout: float | None = None) -> None:
        """Wait until the thread has ended, at most `timeout` [s]."""
        if self._thread.ident is not None:
            self._thread.join(timeout)

    def status(self) -> PortRow:
        """Return what the screen shows of the port.

        ``status`` is ``opening``, ``checking`` (open, not yet known to be the right instrument),
        ``connected``, ``lost``, ``wrong_device`` or ``stopped``; what was read of its lines is
        filled in by who reads them.
        """
        session = self._session
        status, says = self._status, self._says
        if session is not None and (session.accepted or status == "checking"):
            status = "connected" if session.accepted else status
            says = session.says
        return PortRow(
            instrument=self.instrument.id, port=self.instrument.port, status=status, says=says
        )

    def _run(self) -> None:
        wait_s = FIRST_S
        while not self._stop.is_set():
            try:
                worked = self._open_and_read()
            except Exception:
                log.exception("a bug in reading %s; its port is opened again", self.instrument.id)
                self._status, self._says, worked = "lost", "a bug in reading it; see the log", False
            self._session = None
            wait_s = FIRST_S if worked else wait_s
            self._clock.wait(self._stop, wait_s)
            wait_s = min(2 * wait_s, LAST_S)
        self._status, self._says = "stopped", ""

    def _open_and_read(self) -> bool:
        """Open the port and read until it ends; True when it was the right instrument."""
        try:
            found = resolve(self.instrument.port, self._listed)
            line = line_of(self._shape, self.instrument.settings)
            ask = self._shape.ask
            wait_s = min(READ_S, ask.timeout_s) if ask != "none" else READ_S
            mark = mark_of(found.device, self._listed)
            proven = self._known is None or is_the_same(self.instrument.port, self._known, mark)
            port = open_port(found.device, line, read_s=wait_s)
        except DifferentDeviceError as cause:
            self._tell("wrong_device", cause)
            return False
        except (PortError, InputError) as cause:
            self._tell("lost", cause)
            return False
        session = Session(
            self.instrument,
            self._shape,
            port,
            clock=self._clock,
            origin_ns=self._origin_ns,
            sink=self._sink,
            stop=self._stop,
            identity=self._identity,
            proven=proven,
        )
        self._session = session
        if self._status != "wrong_device":  # until it proves to be another one
            self._status, self._says = "checking", ""
        try:
            session.run()
        except WrongDeviceError as cause:
            self._tell("wrong_device", cause, news=session.accepted)
        except PortError as cause:
            self._tell("lost", cause, news=session.accepted)
        finally:
            close_port(port)
            session.close()
        if session.accepted:
            self._identity = session.identity
        if session.fits:
            self._known = mark
        return session.accepted

    def _tell(self, status: str, cause: Exception, *, news: bool = False) -> None:
        """Show a trouble; say it as an event when it is news, not at each try."""
        self._status, self._says = status, str(cause)
        kind = "lost" if isinstance(cause, NoSuchPortError | PortLostError) else repr(type(cause))
        if kind == self._told and not news:
            return
        self._told = kind
        log.warning("%s", cause)
        t_ns = self._clock.now_ns() - self._origin_ns
        self._sink(port_event(self.instrument.id, t_ns, status, str(cause)))

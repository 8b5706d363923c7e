"""A port opened with its line settings, for this process alone.

The bytes of a port that two programs read are halved between them, so a port is locked twice over:
by ``flock``, which asks, and by TIOCEXCL, which refuses.
"""

import contextlib
import logging
import os
import stat
from pathlib import Path
from typing import cast

import serial

from logger.model.ports.forms import PORTLESS, form_of
from logger.ports.errors import TROUBLE, NotAPortError, why
from logger.ports.terminals import is_terminal
from logger.ports.web.messages import MessagePort
from logger.ports.web.polled import PolledPort
from logger.wire.shapes.tables import PortLine

log = logging.getLogger(__name__)

READ_S = 0.25
"""Longest wait for a byte; a stop is seen within this time."""
WRITE_S = 2.0
"""Longest wait for a question to go out."""
_PARITY = {"N": serial.PARITY_NONE, "E": serial.PARITY_EVEN, "O": serial.PARITY_ODD}


def open_port(device: str, line: PortLine, *, read_s: float = READ_S) -> serial.Serial:
    """Open a port.

    Parameters
    ----------
    device : str
        Device path or address, in one of the forms of ``logger.model.ports.forms``.
    line : PortLine
        Line settings. A pseudo-terminal has no parity and no modem lines; there only the baud rate
        is set.
    read_s : float
        Longest wait of a read [s].

    Raises
    ------
    PortError
        Of the kind that says what is wrong.
    """
    _see_what_it_is(device)
    name = form_of(device).name
    if name in ("http", "mqtt"):
        made = PolledPort if name == "http" else MessagePort
        return cast(serial.Serial, made(device, read_s=read_s))
    pseudo = is_pseudo(device)
    url = "://" in device
    port: serial.Serial | None = None
    try:
        port = serial.serial_for_url(
            device,
            do_not_open=True,
            baudrate=line.baud,
            bytesize=8 if pseudo else line.bits,
            parity=_PARITY["N" if pseudo else line.parity],
            stopbits=line.stop,
            timeout=read_s,
        )
        if not url:  # network ports know neither
            port.write_timeout = WRITE_S
            port.exclusive = True
        if line.dtr is not None and not pseudo:
            port.dtr = line.dtr
        if line.rts is not None and not pseudo:
            port.rts = line.rts
        port.open()
    except TROUBLE as cause:
        if port is not None:
            close_port(port)
        raise why(cause, device, opening=True) from cause
    if not url:
        if not pseudo:  # there the claim would outlive a killed recorder
            try:
                _claim(port)
            except OSError as cause:
                close_port(port)
                raise why(cause, device, opening=True) from cause
        _hurry(port, device)
    return port


def _see_what_it_is(device: str) -> None:
    """Refuse what is no port before anything is opened.

    Raises
    ------
    NotAPortError
        If the name has no form that is taken, or a path leads to no terminal.
    """
    try:
        form = form_of(device)
    except ValueError as cause:
        raise NotAPortError(str(cause)) from cause
    if form.name in ("usb", *PORTLESS):  # the first is resolved before
        raise NotAPortError(f"{device}: does not name a device to open")
    if form.name == "device":
        try:
            is_device = stat.S_ISCHR(Path(device).stat().st_mode)
            is_port = is_device and is_terminal(Path(device))
        except (OSError, ValueError) as cause:
            raise why(cause, device, opening=True) from cause
        if not is_port:
            what = "a device of another kind" if is_device else "a file or folder"
            raise NotAPortError(f"{device}: {what}, not a serial port; name one like /dev/ttyUSB0")


def close_port(port: serial.Serial) -> None:
    """Close a port, whatever state it is in; only the thread that opened it may."""
    # pyserial forgets a socket that the other side has shut instead of closing it.
    inner = getattr(port, "_socket", None)
    with contextlib.suppress(*TROUBLE):
        port.close()
    if inner is not None:
        with contextlib.suppress(OSError):
            inner.close()


def read_chunk(port: serial.Serial, limit: int = 4096) -> bytes:
    """Return the byte that comes next and all that came with it; empty after the wait.

    Not for times: use `first_byte` and `rest_of_chunk` where the arrival counts.
    """
    return first_byte(port) + rest_of_chunk(port, limit)


def first_byte(port: serial.Serial) -> bytes:
    """Return one byte, or none after the port's wait."""
    return bytes(port.read(1))


def rest_of_chunk(port: serial.Serial, limit: int = 4096) -> bytes:
    """Return what is there already, up to a limit.

    On POSIX in one call of the system instead of pyserial's four: at hundreds of chunks a second
    that is most of what reading costs. pyserial opens its descriptors non-blocking there.
    """
    handle = getattr(port, "fd", None)
    if os.name == "posix" and isinstance(handle, int):
        try:
            return os.read(handle, limit)
        except BlockingIOError:
            return b""
    found = b""
    while len(found) < limit and (waiting := port.in_waiting):
        piece = port.read(min(waiting, limit - len(found)))
        if not piece:
            break
        found += piece
    return found


def is_pseudo(device: str) -> bool:
    """Return whether a device is a pseudo-terminal."""
    try:
        target = str(Path(device).resolve())
    except OSError:
        return False
    return target.startswith(("/dev/pts/", "/dev/ttys"))


def latency_ms(device: str) -> int | None:
    """Return how long a USB bridge holds bytes back [ms], where the system tells."""
    name = Path(device).resolve().name
    for place in ("/sys/bus/usb-serial/devices", "/sys/class/tty"):
        for path in (
            Path(place) / name / "latency_timer",
            Path(place) / name / "device" / "latency_timer",
        ):
            try:
                return int(path.read_text(encoding="ascii"))
            except (OSError, ValueError):
                continue
    return None


def _claim(port: serial.Serial) -> None:
    try:
        import fcntl
        import termios
    except ImportError:  # Windows opens ports for one program only
        return
    fcntl.ioctl(port.fileno(), termios.TIOCEXCL)


def _hurry(port: serial.Serial, device: str) -> None:
    """Ask a USB bridge not to hold bytes back; says in the log what it does."""
    with contextlib.suppress(*TROUBLE, AttributeError, NotImplementedError):
        port.set_low_latency_mode(True)
    held_ms = latency_ms(device)
    if held_ms is not None:
        log.info("%s: the bridge holds bytes back for up to %d ms", device, held_ms)

"""Ports that the virtual instruments speak through: pseudo-terminals, or TCP where there are none.

Thin I/O: bytes out, bytes in, plug pulled and put back. A symlink in a folder names a
pseudo-terminal as a device path would; ``socket://127.0.0.1:port`` names a TCP port. Never blocks.
"""

import array
import contextlib
import errno
import os
import socket
import sys
from pathlib import Path
from typing import Protocol

_BAUDS = (1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200)
_FULL = (errno.EAGAIN, errno.EWOULDBLOCK, errno.ENOBUFS)
_GONE = (errno.EPIPE, errno.ECONNRESET, errno.EIO, errno.EBADF, errno.ENOTCONN)


class Terminal(Protocol):
    """A port as an instrument sees it."""

    @property
    def port(self) -> str:
        """What a bench file calls it."""

    def write(self, data: bytes) -> int:
        """Send; returns how many bytes were taken, 0 when nobody empties the line."""

    def read(self) -> bytes:
        """Return what was received; empty when nothing is there."""

    def fileno(self) -> int:
        """Descriptor to wait on for received bytes, or -1."""

    def baud(self) -> int | None:
        """Return the speed that the reader has chosen [bit/s]; None where that is not known."""

    def unplug(self) -> None:
        """Pull the plug: the port vanishes."""

    def replug(self) -> None:
        """Put the plug back: a new port of the same name."""

    def unread(self) -> int:
        """Return how many bytes wait for the reader, as far as the port knows."""

    def close(self) -> None:
        """Take the port away for good."""


class PseudoTerminal:
    """A pseudo-terminal behind a symlink.

    Parameters
    ----------
    link : Path
        The symlink; its folder is made where it is missing.
    """

    def __init__(self, link: Path) -> None:
        self._link = link
        self._main = self._other = -1
        link.parent.mkdir(parents=True, exist_ok=True)
        self.replug()

    @property
    def port(self) -> str:
        """Return what a bench file calls it."""
        return str(self._link)

    def replug(self) -> None:
        """Put the plug back."""
        import tty  # does not exist on every system

        if self._main >= 0:
            return
        self._main, self._other = os.openpty()
        tty.setraw(self._other)
        os.set_blocking(self._main, False)
        fresh = self._link.with_name(f".{self._link.name}.new")
        fresh.unlink(missing_ok=True)
        fresh.symlink_to(os.ttyname(self._other))
        fresh.replace(self._link)

    def baud(self) -> int | None:
        """Return the speed that the reader has chosen [bit/s]."""
        import termios  # does not exist on every system

        if self._main < 0:
            return None
        speeds = {getattr(termios, f"B{baud}", None): baud for baud in _BAUDS}
        return speeds.get(termios.tcgetattr(self._main)[4])

    def unplug(self) -> None:
        """Pull the plug."""
        if self._main < 0:
            return
        self._link.unlink(missing_ok=True)
        for descriptor in (self._main, self._other):
            with contextlib.suppress(OSError):
                os.close(descriptor)
        self._main = self._other = -1

    def unread(self) -> int:
        """Return how many bytes wait for the reader."""
        import fcntl  # does not exist on every system
        import termios

        if self._main < 0:
            return 0
        count = array.array("i", [0])
        fcntl.ioctl(self._other, termios.FIONREAD, count)
        return count[0]

    def close(self) -> None:
        """Take the port away for good."""
        self.unplug()

    def fileno(self) -> int:
        """Return the descriptor to wait on, or -1."""
        return self._main

    def write(self, data: bytes) -> int:
        """Send what fits; return how many bytes were taken."""
        if self._main < 0:
            return len(data)
        try:
            return os.write(self._main, data)
        except OSError as cause:
            if cause.errno in _FULL:
                return 0
            if cause.errno in _GONE:
                return len(data)
            raise

    def read(self) -> bytes:
        """Return what was received."""
        if self._main < 0:
            return b""
        try:
            return os.read(self._main, 4096)
        except OSError as cause:
            if cause.errno in (*_FULL, *_GONE):
                return b""
            raise


class TcpTerminal:
    """A TCP port on loopback that takes one reader at a time, the newest."""

    def __init__(self) -> None:
        self._number = 0
        self._listener: socket.socket | None = None
        self._peer: socket.socket | None = None
        self.replug()

    @property
    def port(self) -> str:
        """Return what a bench file calls it."""
        return f"socket://127.0.0.1:{self._number}"

    def replug(self) -> None:
        """Put the plug back."""
        if self._listener is not None:
            return
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if os.name == "posix":  # elsewhere it would let two listeners share the number
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind(("127.0.0.1", self._number))
        listener.listen(1)
        listener.setblocking(False)
        self._number = listener.getsockname()[1]
        self._listener = listener

    def baud(self) -> int | None:
        """Return None: TCP has no speed."""
        return None

    def unplug(self) -> None:
        """Pull the plug."""
        for end in (self._peer, self._listener):
            if end is not None:
                end.close()
        self._peer = self._listener = None

    def unread(self) -> int:
        """Return 0: what TCP has taken arrives, nobody knows when."""
        return 0

    def close(self) -> None:
        """Take the port away for good."""
        self.unplug()

    def fileno(self) -> int:
        """Return the descriptor to wait on, or -1."""
        self._accept()
        end = self._peer or self._listener
        return -1 if end is None else end.fileno()

    def write(self, data: bytes) -> int:
        """Send what fits; return how many bytes were taken."""
        self._accept()
        if self._peer is None:
            return len(data)
        try:
            return self._peer.send(data)
        except OSError as cause:
            if cause.errno in _FULL:
                return 0
            self._lose()
            return len(data)

    def read(self) -> bytes:
        """Return what was received."""
        self._accept()
        if self._peer is None:
            return b""
        try:
            data = self._peer.recv(4096)
        except OSError as cause:
            if cause.errno not in _FULL:
                self._lose()
            return b""
        if not data:
            self._lose()
        return data

    def _accept(self) -> None:
        if self._listener is None:
            return
        try:
            peer, _ = self._listener.accept()
        except OSError:
            return
        peer.setblocking(False)
        peer.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        if self._peer is not None:
            self._peer.close()
        self._peer = peer

    def _lose(self) -> None:
        if self._peer is not None:
            self._peer.close()
            self._peer = None


def has_pseudo_terminals() -> bool:
    """Whether this system has pseudo-terminals."""
    return sys.platform != "win32" and hasattr(os, "openpty")


def open_terminal(link: Path, *, tcp: bool | None = None) -> Terminal:
    """Open a port for an instrument.

    Parameters
    ----------
    link : Path
        Name of the pseudo-terminal.
    tcp : bool or None
        None takes TCP only where the system has no pseudo-terminals.
    """
    over_tcp = not has_pseudo_terminals() if tcp is None else tcp
    return TcpTerminal() if over_tcp else PseudoTerminal(link)

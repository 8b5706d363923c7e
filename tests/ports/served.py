"""Line formats spoken behind a serial server: a plain socket, or RFC 2217 with line settings.

At other settings than the format's own what is sent is garbled, as pseudo-terminals cannot do: each
byte with its bits turned and the highest set. A plain socket knows no settings.
"""

import contextlib
import select
import socket
import threading
import warnings
from dataclasses import dataclass, field

import serial
import serial.rfc2217

from logger.wire.shapes.tables import PortLine

EACH_S = 0.05


def garbled(said: bytes) -> bytes:
    """Return what comes of bytes at another setting than their own."""
    return bytes(byte ^ 0x55 | 0x80 for byte in said)


@dataclass
class Served:
    """One format on a port of this machine's network, and the values it may give."""

    name: str
    lines: list[bytes]
    right: set[float]
    line: PortLine
    rfc2217: bool
    took_s: float = 0.0
    stop: threading.Event = field(default_factory=threading.Event)

    def open(self) -> str:
        """Return the address, on which it speaks from now on to all who are connected."""
        self._listener = socket.create_server(("127.0.0.1", 0))
        self._listener.settimeout(0.1)
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()
        scheme = "rfc2217" if self.rfc2217 else "socket"
        return f"{scheme}://127.0.0.1:{self._listener.getsockname()[1]}"

    def close(self) -> None:
        """Fall silent."""
        self.stop.set()
        self._thread.join()
        self._listener.close()

    def _serve(self) -> None:
        while not self.stop.is_set():
            with contextlib.suppress(OSError):
                peer, _ = self._listener.accept()
                with peer:
                    self._speak(peer)

    def _speak(self, peer: socket.socket) -> None:
        peer.settimeout(5)
        port = manager = None
        if self.rfc2217:
            lock = threading.Lock()

            class Connection:
                def write(self, data: bytes) -> None:
                    with lock:
                        peer.sendall(data)

            port = serial.serial_for_url("loop://")
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                manager = serial.rfc2217.PortManager(port, Connection())
        number = 0
        while not self.stop.is_set():
            if select.select([peer], [], [], EACH_S)[0]:
                data = peer.recv(1024)
                if not data:
                    return
                if manager is not None:
                    list(manager.filter(data))
                continue
            said = self.lines[number % len(self.lines)]
            if manager is not None and not self._fits(port):
                said = garbled(said)
            peer.sendall(b"".join(manager.escape(said)) if manager is not None else said)
            number += 1

    def _fits(self, port: serial.Serial) -> bool:
        line = self.line
        mine = (line.baud, line.bits, line.parity)
        return (port.baudrate, port.bytesize, port.parity) == mine

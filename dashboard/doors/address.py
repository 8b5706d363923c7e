"""The address of the screen: a socket that listens, on the wanted port or the next free one.

Loads next to nothing: it is bound before the screen's libraries are there.
"""

import socket
from typing import NamedTuple

from logger.model.errors import InputError

LOOPBACK = "127.0.0.1"
TRIES = 20
"""How many ports after the wanted one are tried."""


class Bound(NamedTuple):
    """A socket that listens, and whether the wanted port was busy."""

    listener: socket.socket
    moved: bool

    @property
    def url(self) -> str:
        """Where this machine reaches it."""
        return f"http://{LOOPBACK}:{self.listener.getsockname()[1]}/"


def bind(host: str, port: int) -> Bound:
    """Bind the wanted port or the next free one.

    Raises
    ------
    InputError
        If none of the next ports is free.
    """
    if not 0 <= port <= 65535:
        raise InputError("--port", f"{port} is no port", "give 1 to 65535")
    for candidate in [port] if port == 0 else range(port, min(port + TRIES, 65536)):
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((host, candidate))
            listener.listen(64)
        except OSError:
            listener.close()
            continue
        return Bound(listener, candidate != port)
    raise InputError("--port", f"{port} and the {TRIES - 1} after it are busy", "give another")


def own_address() -> str:
    """This machine's address on the local network; nothing is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # TEST-NET-1 of RFC 5737
            return str(probe.getsockname()[0])
        except OSError:
            return LOOPBACK

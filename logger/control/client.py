"""The end of the control line that screens and commands hold.

Thin I/O; safe to use from several threads. Finds the recorder through its address file at every
new connection, so that a restarted recorder is found without help.
"""

import socket
import threading
from pathlib import Path
from typing import Any

from logger.control.address import Address, read_address
from logger.control.messages import decode, encode, patience_s
from logger.model.errors import BainlogError
from logger.model.plainly import state_from
from logger.model.state import State

_MORE_S = 2.0
"""The recorder gives up first, and says why [s]."""


_TRIES = 6
"""Connections that are tried for one request, where others push this one out."""


class _UnheardError(ConnectionError):
    """The recorder closed the line without a word: it has not taken the request."""


class GoneError(BainlogError, ConnectionError):
    """No recorder answers for this data folder."""


class RefusedError(BainlogError, ValueError):
    """The recorder heard the command and refused it; the message is its own."""


class Client:
    """Talks to the recorder of one data folder.

    Parameters
    ----------
    folder : Path
        Data folder.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = threading.Lock()
        self._socket: socket.socket | None = None
        self._address: Address | None = None
        self._file: Any = None

    def __enter__(self) -> "Client":
        return self

    def __exit__(self, *failure: object) -> None:
        self.close()

    def state(self) -> State:
        """Return what the screen shows now.

        Raises
        ------
        GoneError
            If no recorder answers.
        """
        return state_from(self.ask("state"))

    def send(self, kind: str, **data: Any) -> dict[str, Any]:
        """Send a command and return its event, committed, with its number.

        Raises
        ------
        RefusedError
            If the recorder refuses it.
        GoneError
            If no recorder answers; whether the command was taken is not known then.
        """
        return dict(self.ask(kind, **data))

    def ask(self, do: str, **data: Any) -> Any:
        """Send one request and return its answer.

        Raises
        ------
        RefusedError
            If the recorder refuses it.
        GoneError
            If no recorder answers; whether a command was taken is not known then.
        """
        with self._lock:
            try:
                reply = self._exchange(do, data)
            except OSError as cause:
                self._drop()
                raise self._gone() from cause
        if not reply.get("ok"):
            raise RefusedError(str(reply.get("error", "refused")))
        return reply.get("answer")

    def close(self) -> None:
        """Close the connection; the next request opens a new one."""
        with self._lock:
            self._drop()

    def _gone(self) -> GoneError:
        return GoneError(f"no recorder answers for {self._folder}; start one with 'bainlog start'")

    def _exchange(self, do: str, data: dict[str, Any]) -> dict[str, Any]:
        for left in reversed(range(_TRIES)):
            address = read_address(self._folder)
            if address is None:
                break
            try:
                return self._exchange_once(address, do, data)
            except _UnheardError:
                self._drop()
                # Another recorder cannot promise what the one that was asked has taken.
                if not left or read_address(self._folder) != address:
                    raise
        raise ConnectionError("no address file")

    def _exchange_once(self, address: Address, do: str, data: dict[str, Any]) -> dict[str, Any]:
        if address != self._address:
            self._drop()  # the recorder was restarted: a command must not go to the old line
        if self._socket is not None and _is_closed(self._socket):
            self._drop()  # it was silent for long: nothing was sent yet, so a new line is right
        if self._socket is None:
            self._address = address
            self._socket = socket.create_connection(("127.0.0.1", address.port), timeout=_MORE_S)
            self._socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            self._file = self._socket.makefile("rb")
        self._socket.settimeout(patience_s(do) + _MORE_S)
        try:
            self._socket.sendall(encode({"token": address.token, "do": do, "data": data}))
            line = self._file.readline()
        except (BrokenPipeError, ConnectionResetError) as cause:
            raise _UnheardError("the recorder closed the connection") from cause
        if not line:
            raise _UnheardError("the recorder closed the connection")
        if not line.endswith(b"\n"):
            raise ConnectionError("the recorder closed the connection in the middle of its answer")
        return decode(line)

    def _drop(self) -> None:
        for part in (self._file, self._socket):
            if part is not None:
                part.close()
        self._file = self._socket = None


def _is_closed(line: socket.socket) -> bool:
    """Whether the other side has closed a line on which nothing is due."""
    line.setblocking(False)
    try:
        return line.recv(1, socket.MSG_PEEK) == b""
    except BlockingIOError:
        return False
    except OSError:
        return True

"""The recorder's end of the control line.

Thin I/O: accepts connections on loopback, checks token and shape of each request, and hands it to
one function, which answers with JSON values or raises an error of ours. One thread a connection.

A connection takes one of the places only with its first good token. Until then it has a short time
and one of a few waiting places; a newcomer takes that of the one that has waited longest, so that
connections without a token never keep out one that has it. What the pushed out one has sent is
still read: who sent the token is known and answered, however fast others come behind. A request
whose connection is closed without an answer was not taken; the client relies on that.
"""

import contextlib
import hmac
import logging
import os
import secrets
import socket
import socketserver
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from logger.control.address import Address, remove_address
from logger.control.messages import MAX_LINE, decode, encode, request_from
from logger.model.errors import BainlogError

log = logging.getLogger(__name__)

Answer = Callable[[str, dict[str, Any]], Any]
IDLE_S = 600.0
"""A connection that says nothing for so long is closed [s]."""
MAX_CONNECTIONS = 64
"""Connections that have shown the token, at most."""
TOKEN_S = 5.0
"""A connection that has not shown the token within this is closed [s]."""
MAX_STRANGERS = 64
"""Connections that have not shown the token yet, at most."""
BACKLOG = 128
"""Connections that the system keeps until they are accepted."""
LINGER_S, LINGER_CHUNKS = 0.2, 64
"""What a refused client still sends is read away, until nothing comes for so long [s] or so many
pieces came, so that it gets its answer."""

WRONG_TOKEN = "wrong token: only the recorder's own user may ask"  # noqa: S105 - what is said


class ControlServer:
    """Listens for commands to one data folder.

    Parameters
    ----------
    folder : Path
        Data folder; the address is written there.
    answer : callable
        ``answer(do, data)``; called from several threads.
    """

    def __init__(self, folder: Path, answer: Answer) -> None:
        self._folder = folder
        self._token = secrets.token_urlsafe(32)
        self._server = _Server(("127.0.0.1", 0), self._token, answer)
        self._thread = threading.Thread(
            target=self._server.serve_forever, kwargs={"poll_interval": 0.1}, name="control"
        )

    @property
    def port(self) -> int:
        """Port number on loopback."""
        return int(self._server.server_address[1])

    def start(self) -> None:
        """Begin to answer, then say where."""
        self._thread.start()
        Address(port=self.port, token=self._token, pid=os.getpid()).write(self._folder)

    def stop(self) -> None:
        """Stop answering and take the address away."""
        remove_address(self._folder, os.getpid())
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()


class _Server(socketserver.ThreadingTCPServer):
    daemon_threads = True
    block_on_close = False
    allow_reuse_address = os.name == "posix"
    request_queue_size = BACKLOG

    def __init__(self, address: tuple[str, int], token: str, answer: Answer) -> None:
        self.token = token
        self.answer = answer
        self.places = threading.BoundedSemaphore(MAX_CONNECTIONS)
        self._lock = threading.Lock()
        self._live: dict[socket.socket, float | None] = {}
        """Every connection in order of arrival; when it came [s] until it has shown the token."""
        super().__init__(address, _Connection)

    def welcome(self, connection: socket.socket) -> None:
        """Take a connection in; where too many strangers wait, the oldest of them has to go."""
        with self._lock:
            self._live[connection] = time.monotonic()
            strangers = [c for c, since in self._live.items() if since is not None]
            # Its thread still reads what has come, and then finds the end.
            self._cut(strangers[: max(0, len(strangers) - MAX_STRANGERS)], socket.SHUT_RD)

    def is_known(self, connection: socket.socket) -> None:
        """Note that a connection has shown the token, also one that was pushed out meanwhile."""
        with self._lock:
            self._live[connection] = None

    def farewell(self, connection: socket.socket) -> None:
        """Forget a connection."""
        with self._lock:
            self._live.pop(connection, None)

    def service_actions(self) -> None:
        """Cut strangers whose time is over; called several times a second."""
        late = time.monotonic() - TOKEN_S
        with self._lock:
            self._cut([c for c, since in self._live.items() if since is not None and since < late])

    def server_close(self) -> None:
        super().server_close()
        with self._lock:
            self._cut(list(self._live))

    def _cut(self, connections: list[socket.socket], how: int = socket.SHUT_RDWR) -> None:
        """Let whoever reads or writes on connections find them closed."""
        for connection in connections:
            del self._live[connection]
            with contextlib.suppress(OSError):
                connection.shutdown(how)

    def handle_error(self, request: Any, client_address: Any) -> None:
        log.debug("a control connection ended early", exc_info=True)


class _Connection(socketserver.StreamRequestHandler):
    timeout = IDLE_S
    server: _Server

    def handle(self) -> None:
        server = self.server
        server.welcome(self.connection)
        try:
            line = self.rfile.readline(MAX_LINE + 1)
            if not line.endswith(b"\n") and len(line) <= MAX_LINE:
                return  # it ended, or was pushed out, before it had said anything whole
            if not self._is_whole(line) or not self._shows_token(line):
                self._refuse(WRONG_TOKEN)
                return
            server.is_known(self.connection)
            if not server.places.acquire(blocking=False):
                self._refuse("too many connections")
                return
            try:
                self._converse(line)
            finally:
                server.places.release()
        except OSError:
            return
        finally:
            server.farewell(self.connection)

    def _converse(self, line: bytes) -> None:
        while line:
            if not self._is_whole(line):
                self._refuse("line too long or cut")
                return
            self.wfile.write(encode(self._reply(line)))
            line = self.rfile.readline(MAX_LINE + 1)

    def _is_whole(self, line: bytes) -> bool:
        return len(line) <= MAX_LINE and line.endswith(b"\n")

    def _shows_token(self, line: bytes) -> bool:
        try:
            return self._is_token(decode(line).get("token"))
        except BainlogError:
            return False

    def _is_token(self, token: object) -> bool:
        return isinstance(token, str) and hmac.compare_digest(
            token.encode(), self.server.token.encode()
        )

    def _refuse(self, why: str) -> None:
        """Say why and close; what still comes is read away, or the answer would be lost."""
        self.wfile.write(encode({"ok": False, "error": why}))
        self.connection.shutdown(socket.SHUT_WR)
        self.connection.settimeout(LINGER_S)
        for _ in range(LINGER_CHUNKS):
            if not self.connection.recv(65_536):
                return

    def _reply(self, line: bytes) -> dict[str, Any]:
        try:
            token, do, data = request_from(decode(line))
            if not self._is_token(token):
                return {"ok": False, "error": WRONG_TOKEN}
            return {"ok": True, "answer": self.server.answer(do, data)}
        except BainlogError as cause:
            return {"ok": False, "error": str(cause)}
        except Exception as cause:  # a bug must be said, not hang the screen
            log.exception("control request failed")
            return {"ok": False, "error": f"the recorder failed to answer: {cause}"}

"""The recorder's end of the control line.

Thin I/O: accepts connections on loopback, checks token and shape of each request, and hands it to
one function, which answers with JSON values or raises an error of ours. One thread a connection.
"""

import contextlib
import hmac
import logging
import os
import secrets
import socket
import socketserver
import threading
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

    def __init__(self, address: tuple[str, int], token: str, answer: Answer) -> None:
        self.token = token
        self.answer = answer
        self.places = threading.BoundedSemaphore(MAX_CONNECTIONS)
        self.live: set[socket.socket] = set()
        super().__init__(address, _Connection)

    def server_close(self) -> None:
        super().server_close()
        for connection in list(self.live):
            with contextlib.suppress(OSError):
                connection.shutdown(socket.SHUT_RDWR)

    def handle_error(self, request: Any, client_address: Any) -> None:
        log.debug("a control connection ended early", exc_info=True)


class _Connection(socketserver.StreamRequestHandler):
    timeout = IDLE_S
    server: _Server

    def handle(self) -> None:
        if not self.server.places.acquire(blocking=False):
            self.wfile.write(encode({"ok": False, "error": "too many connections"}))
            return
        self.server.live.add(self.connection)
        try:
            while line := self.rfile.readline(MAX_LINE + 1):
                if len(line) > MAX_LINE or not line.endswith(b"\n"):
                    self.wfile.write(encode({"ok": False, "error": "line too long or cut"}))
                    return
                self.wfile.write(encode(self._reply(line)))
        except OSError:
            return
        finally:
            self.server.live.discard(self.connection)
            self.server.places.release()

    def _reply(self, line: bytes) -> dict[str, Any]:
        try:
            token, do, data = request_from(decode(line))
            if not hmac.compare_digest(token.encode(), self.server.token.encode()):
                return {"ok": False, "error": "wrong token: only the recorder's own user may ask"}
            return {"ok": True, "answer": self.server.answer(do, data)}
        except BainlogError as cause:
            return {"ok": False, "error": str(cause)}
        except Exception as cause:  # a bug must be said, not hang the screen
            log.exception("control request failed")
            return {"ok": False, "error": f"the recorder failed to answer: {cause}"}

"""The web server's connections: deadlines, how many there may be, and two queues of requests.

waitress closes a connection that says nothing, but not one whose request trickles in; it stops
accepting at a number of connections, whoever holds them; and it has one queue for all. So a request
here has a time to arrive in, a newcomer takes the place of a connection that is of less use, and
exports and reports wait in a queue of their own, away from the pages.
"""

import copy
import logging
import select
import socket
import time
from typing import Any

from waitress.adjustments import Adjustments
from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser
from waitress.server import TcpWSGIServer
from waitress.task import ThreadedTaskDispatcher
from waitress.utilities import RequestEntityTooLarge

from logger.store.photos.encoding import MOST_GIVEN_BYTES

HEADER_S = 10.0
"""A request's header must be whole within this [s], counted from its first byte."""
REQUEST_S = 30.0
"""A request must be whole within this [s]: 4 MB at 1.1 Mbit/s, a photo of 20 MB at 5.4 Mbit/s."""
IDLE_S = 60
"""A connection that says nothing between two requests is closed after this [s]."""
MAX_HEADER, MAX_BODY = 32_768, 4_000_000
"""Longest header and body of a request but a photo [bytes]; a body is shorter."""
MAX_PHOTO = MOST_GIVEN_BYTES + 1
"""A photo's body is shorter [bytes]."""
HALF_OPEN = 32
"""Connections whose request is not whole, at most."""
PER_CLIENT = 64
"""Connections of one address, at most: some browsers with six each."""
CONNECTIONS = 512
PAGE_THREADS, EXPORT_THREADS = 8, 2
_LONG = {
    ("runs", "export"), ("runs", "report"), ("sheets", "card"), ("sheets", "recipe"),
}  # fmt: skip
"""First and third name of the paths that take long."""


class _TooLong(RequestEntityTooLarge):  # type: ignore[misc]  # waitress has no types
    """The answer to a body that is too long."""

    def to_response(self, ident: str | None = None) -> tuple[str, list[tuple[str, str]], bytes]:
        """Return status, headers and text."""
        status, headers, _ = super().to_response(ident)
        return status, headers, f"Not saved: {self.body}. Use a smaller copy.\n".encode()


class Asked(HTTPRequestParser):  # type: ignore[misc]  # waitress has no types
    """A request; one with a photo may be longer than others."""

    adj: Any
    error: Any

    def parse_header(self, header_plus: bytes) -> None:
        """Read the header, which says how long the rest may be."""
        super().parse_header(header_plus)
        if self.command == "POST" and takes_photo(self.path):
            self.adj = copy.copy(self.adj)
            self.adj.max_request_body_size = MAX_PHOTO

    def received(self, data: bytes) -> int:
        """Take bytes, and return how many belong to this request."""
        taken = int(super().received(data))
        if isinstance(self.error, RequestEntityTooLarge):
            most = self.adj.max_request_body_size / 1e6
            self.error = _TooLong(f"more than {most:.0f} MB")
        return taken


class Visit(HTTPChannel):  # type: ignore[misc]  # waitress has no types
    """One connection, and since when its request is on its way."""

    parser_class = Asked

    def __init__(self, server: "Visitors", *args: Any, **more: Any) -> None:
        self.began_s = time.monotonic()
        self.served = False
        super().__init__(server, *args, **more)
        server.newest = self

    def received(self, data: bytes) -> bool:
        """Take bytes; those after an answered request begin another one."""
        if self.served and self.request is None and not self.requests:
            self.began_s = time.monotonic()
        return bool(super().received(data))

    def service(self) -> None:
        """Answer the request that waits."""
        super().service()
        self.served = True

    @property
    def half_open(self) -> bool:
        """Whether it owes a request, or the rest of one."""
        return not self.requests and (self.request is not None or not self.served)

    def is_late(self, now_s: float) -> bool:
        """Whether its request has not come in time.

        Parameters
        ----------
        now_s : float
            Monotonic time [s].
        """
        if not self.half_open:
            return False
        in_body = self.request is not None and self.request.headers_finished
        return now_s - self.began_s > (REQUEST_S if in_body else HEADER_S)

    @property
    def use(self) -> tuple[int, float]:
        """Which connection goes first where there are too many: the least."""
        if self.half_open:
            return 0, self.began_s
        if not self.requests:  # idle, or its client does not read what it is sent
            return 1, self.last_activity
        return 2, self.last_activity


class Queues:
    """Threads for pages, and others for what takes long."""

    def __init__(self) -> None:
        self._pages, self._exports = ThreadedTaskDispatcher(), ThreadedTaskDispatcher()
        self._pages.set_thread_count(PAGE_THREADS)
        self._exports.set_thread_count(EXPORT_THREADS)
        self._exports.queue_logger = logging.getLogger(f"{__name__}.exports")
        self._exports.queue_logger.setLevel(logging.ERROR)  # it is meant that exports wait

    def add_task(self, visit: Visit) -> None:
        """Queue a connection's next request."""
        path = getattr(visit.requests[0], "path", "")
        (self._exports if takes_long(path) else self._pages).add_task(visit)

    def shutdown(self) -> None:
        """End all threads."""
        self._pages.shutdown()
        self._exports.shutdown()


def takes_long(path: str) -> bool:
    """Whether a path is of an export or a report of a run, or of a sheet on paper."""
    parts = path.split("/")
    return len(parts) > 3 and (parts[1], parts[3]) in _LONG


def takes_photo(path: str) -> bool:
    """Whether a path takes a photo of a run in."""
    parts = path.split("/")
    return len(parts) == 4 and parts[1] == "runs" and parts[3] == "photo"


class Visitors(TcpWSGIServer):  # type: ignore[misc]  # waitress has no types
    """A web server on a bound socket.

    Parameters
    ----------
    application : callable
        What answers, by WSGI.
    listener : socket
        Bound and listening.
    """

    channel_class = Visit
    newest: Visit | None = None

    def __init__(self, application: Any, listener: socket.socket) -> None:
        settings = Adjustments(
            sockets=[listener],
            ident=None,
            channel_timeout=IDLE_S,
            cleanup_interval=1,
            connection_limit=CONNECTIONS,
            max_request_header_size=MAX_HEADER,
            max_request_body_size=MAX_BODY,
            log_socket_errors=False,
            asyncore_use_poll=hasattr(select, "poll"),
        )
        about = (listener.family, listener.type, listener.proto, listener.getsockname())
        super().__init__(
            application,
            {},
            _sock=listener,
            dispatcher=Queues(),
            adj=settings,
            sockinfo=about,
            bind_socket=False,
        )

    def handle_accept(self) -> None:
        """Take a newcomer in; one connection of less use has to go where there are too many."""
        before = self.newest
        super().handle_accept()
        newest = self.newest
        if newest is None or newest is before:
            return
        others = [v for v in self.active_channels.values() if v is not newest]
        same = [v for v in others if v.addr[0] == newest.addr[0]]
        if len(same) >= PER_CLIENT:
            min(same, key=lambda v: v.use).handle_close()
        half = [v for v in others if v.half_open and v.connected]
        if len(half) >= HALF_OPEN:
            min(half, key=lambda v: v.use).handle_close()

    def maintenance(self, now: float) -> None:
        """Close what is silent or late; called every second.

        Parameters
        ----------
        now : float
            Wall time [s].
        """
        super().maintenance(now)
        now_s = time.monotonic()
        for visit in self.active_channels.values():
            if visit.is_late(now_s):
                visit.will_close = True

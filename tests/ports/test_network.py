"""Instruments behind a network serial server: a raw socket, and RFC 2217."""

import contextlib
import select
import socket
import threading
from collections.abc import Iterator

import pytest
import serial
import serial.rfc2217

from logger.wire.emit import Emitter
from logger.wire.shapes.shape import builtin_shapes

SHAPES = builtin_shapes()
FOUR = {"t1": 21.5, "t2": 22.5, "t3": 23.5, "t4": 24.5}


class Server:
    """A serial server on loopback: sends what it is told to whoever is connected."""

    def __init__(self, *, rfc2217: bool) -> None:
        self._rfc2217 = rfc2217
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.number = self._listener.getsockname()[1]
        self._stop = threading.Event()
        self._drop = threading.Event()
        self.wanted = b""
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        self._listener.settimeout(0.1)
        while not self._stop.is_set():
            with contextlib.suppress(TimeoutError):
                peer, _ = self._listener.accept()
                with peer, contextlib.suppress(OSError):
                    self._serve(peer)

    def _serve(self, peer: socket.socket) -> None:
        peer.settimeout(5)
        manager = None
        if self._rfc2217:
            port = serial.serial_for_url("loop://")
            lock = threading.Lock()

            class Connection:
                def write(self, data: bytes) -> None:
                    with lock:
                        peer.sendall(data)

            manager = serial.rfc2217.PortManager(port, Connection())
        while not self._stop.is_set() and not self._drop.is_set():
            if select.select([peer], [], [], 0.02)[0]:
                data = peer.recv(1024)
                if not data:
                    return
                if manager is not None:
                    list(manager.filter(data))
            elif self.wanted:
                data = self.wanted
                peer.sendall(b"".join(manager.escape(data)) if manager is not None else data)
        self._drop.clear()

    def drop(self) -> None:
        """Cut the connection that is open now."""
        self._drop.set()

    def close(self) -> None:
        self._stop.set()
        self._thread.join(20)
        self._listener.close()


@pytest.fixture(params=["socket", "rfc2217"])
def server(request) -> Iterator[tuple[Server, str]]:
    made = Server(rfc2217=request.param == "rfc2217")
    yield made, f"{request.param}://127.0.0.1:{made.number}"
    made.close()


@pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")  # pyserial 3.5's own
def test_lines_come_over_the_network_and_again_after_a_cut(server, bench):
    served, url = server
    served.wanted = Emitter(SHAPES["comma list of probes"]).line(FOUR)
    bench.thread(url, "comma list of probes")
    bench.sink.wait(lambda s: len(s.values()) >= 12, "three lines")
    served.drop()
    bench.sink.wait(lambda s: "lost" in s.kinds, "the cut")
    before = len(bench.sink.values())
    bench.sink.wait(lambda s: len(s.values()) >= before + 8, "lines again")
    assert set(bench.sink.values()) == set(FOUR.values())
    assert bench.sink.kinds == ["connected", "lost", "connected"]

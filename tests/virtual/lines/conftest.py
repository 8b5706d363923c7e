"""A reader of one port, for the tests of instruments over pseudo-terminals."""

import threading
import time
from collections.abc import Callable, Iterator

import pytest
import serial

from logger.model.bench import PortSettings
from logger.model.reading import Notice, RawReading
from logger.wire.reader import LineReader
from logger.wire.shapes.shape import builtin_shapes


class Listener:
    """Reads a port in a thread, asking where its shape asks; opens it anew after it was lost."""

    def __init__(self, port: str, shape: str) -> None:
        self.shape = builtin_shapes()[shape]
        self.reader = LineReader(self.shape, settings=PortSettings(baud=115200), delay_s=0.0)
        self.raw = bytearray()
        self.heard: list[RawReading | Notice] = []
        self.opened = 0
        self._port = port
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def values(self, field: str) -> list[float | None]:
        return [x.value for x in list(self.heard) if isinstance(x, RawReading) and x.field == field]

    def close(self) -> None:
        self._stopping.set()
        self._thread.join()

    def _run(self) -> None:
        while not self._stopping.is_set():
            try:
                with serial.serial_for_url(self._port, 9600, timeout=0.02) as port:
                    self.opened += 1
                    self.reader.reset(time.monotonic_ns())
                    self._listen(port)
            except (OSError, TypeError, ValueError):
                self._stopping.wait(0.02)

    def _listen(self, port: serial.SerialBase) -> None:
        ask = self.shape.ask
        while not self._stopping.is_set():
            if ask != "none":
                port.write(ask.send.encode())
            data = port.read(1)
            if data:
                data += port.read(port.in_waiting)
                self.raw += data
                self.heard += self.reader.feed(data, time.monotonic_ns())


@pytest.fixture
def listen() -> Iterator[Callable[[str, str], Listener]]:
    """Return a function that opens a port and reads it by a line shape."""
    listeners: list[Listener] = []

    def open_port(port: str, shape: str) -> Listener:
        listeners.append(Listener(port, shape))
        return listeners[-1]

    yield open_port
    for listener in listeners:
        listener.close()

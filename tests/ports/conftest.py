"""A bench of pseudo-terminals for tests: instruments in threads, and a sink to wait on."""

import os
import queue
import select
import threading
import time
import tty
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from logger.model.bench import Instrument
from logger.model.event import Event
from logger.model.reading import Notice, RawReading
from logger.ports.batch import PortBatch
from logger.ports.clock import Clock
from logger.ports.instrument import InstrumentThread
from logger.wire.emit import Emitter
from logger.wire.reader import LineReader, reader_of
from logger.wire.shapes.shape import Shape, builtin_shapes

SHAPES = builtin_shapes()
DEADLINE_S = 120.0


class Line:
    """A pseudo-terminal behind a symlink; what is written comes out of the port."""

    def __init__(self, link: Path) -> None:
        self.link = link
        self.main = self.other = -1
        self.plug()

    @property
    def port(self) -> str:
        return str(self.link)

    def plug(self) -> None:
        """Put the plug in: a new pseudo-terminal of the same name."""
        self.main, self.other = os.openpty()
        tty.setraw(self.other)
        os.set_blocking(self.main, False)
        self.link.unlink(missing_ok=True)
        self.link.symlink_to(os.ttyname(self.other))

    def unplug(self) -> None:
        """Pull it: the name goes, the port hangs up."""
        self.link.unlink(missing_ok=True)
        for descriptor in (self.main, self.other):
            if descriptor >= 0:
                os.close(descriptor)
        self.main = self.other = -1

    def send(self, data: bytes) -> None:
        """Write all of it, waiting for the reader where the line is full."""
        deadline = time.monotonic() + DEADLINE_S
        while data:
            _, ready, _ = select.select([], [self.main], [], 0.5)
            if not ready:
                assert time.monotonic() < deadline, "nobody empties the line"
                continue
            data = data[os.write(self.main, data) :]

    def receive(self, wait_s: float = 0.05) -> bytes:
        ready, _, _ = select.select([self.main], [], [], wait_s)
        return os.read(self.main, 4096) if ready else b""


class Answerer:
    """Answers questions on a line in a thread of its own."""

    def __init__(self, line: Line, answer: Callable[[bytes], bytes], *, fixed: int = 0) -> None:
        self._line, self._answer, self._fixed = line, answer, fixed
        self._stop = threading.Event()
        self.asked: list[tuple[float, bytes]] = []
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        heard = b""
        while not self._stop.is_set():
            piece = self._line.receive()
            # A device with registers takes silence for the end of a frame.
            heard = heard + piece if piece or not self._fixed else b""
            while question := self._next(heard):
                heard = heard[len(question) :]
                self.asked.append((time.monotonic(), question))
                if reply := self._answer(question):
                    self._line.send(reply)

    def _next(self, heard: bytes) -> bytes:
        if self._fixed:
            return heard[: self._fixed] if len(heard) >= self._fixed else b""
        end = heard.find(b"\n")
        return heard[: end + 1]

    def stop(self) -> None:
        self._stop.set()
        self._thread.join(DEADLINE_S)


class Sink:
    """Keeps batches and what a reader makes of their bytes; tests wait on it."""

    def __init__(self) -> None:
        self.batches: list[PortBatch] = []
        self.outcomes: list[RawReading | Notice] = []
        self._news: queue.Queue[tuple[PortBatch, LineReader | None]] = queue.Queue()

    def __call__(self, batch: PortBatch) -> None:
        self._news.put((batch, None))

    def of(self, reader: LineReader) -> Callable[[PortBatch], None]:
        """Return a sink for one instrument, whose bytes are read as the recorder reads them."""
        return lambda batch: self._news.put((batch, reader))

    def _keep(self, batch: PortBatch, reader: LineReader | None) -> None:
        self.batches.append(batch)
        if reader is None or batch.kind == "event":
            return
        if batch.kind == "data":
            self.outcomes += reader.feed(batch.data, batch.t_ns)
        else:
            reader.reset(batch.t_ns if batch.kind == "open" else None)

    def wait(
        self,
        until: Callable[["Sink"], object],
        what: str = "",
        *,
        nudge: Callable[[], object] | None = None,
    ) -> None:
        """Take batches until something is true of them, or fail after a deadline.

        `nudge` is called every 50 ms while nothing comes: what was sent before a port was open is
        lost, as on a real one.
        """
        deadline = time.monotonic() + DEADLINE_S
        while not until(self):
            left = deadline - time.monotonic()
            try:
                left = max(0.0, left)
                self._keep(*self._news.get(timeout=left if nudge is None else 0.05))
            except queue.Empty:
                if left == 0.0:
                    pytest.fail(f"did not come within {DEADLINE_S} s: {what}; {self.summary()}")
                if nudge is not None:
                    nudge()

    def take_all(self) -> None:
        while not self._news.empty():
            self._keep(*self._news.get())

    def summary(self) -> str:
        kinds = [b.event.kind if b.event else b.kind for b in self.batches]
        return f"batches {kinds[-20:]}, last values {self.values()[-5:]}"

    @property
    def events(self) -> list[Event]:
        return [b.event for b in self.batches if b.event is not None]

    @property
    def kinds(self) -> list[str]:
        return [e.kind for e in self.events]

    @property
    def data(self) -> bytes:
        return b"".join(b.data for b in self.batches)

    def values(self, field: str | None = None) -> list[float | None]:
        return [
            o.value for o in self.outcomes if isinstance(o, RawReading) and field in (None, o.field)
        ]

    def notices(self) -> list[str]:
        return [o.kind for o in self.outcomes if isinstance(o, Notice)]


class Bench:
    """Lines, threads and answerers of one test; all ended afterwards."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.sink = Sink()
        self.clock = Clock()
        self.threads: list[InstrumentThread] = []
        self.lines: list[Line] = []
        self.answerers: list[Answerer] = []

    def line(self, name: str = "port") -> Line:
        self.lines.append(Line(self.folder / name))
        return self.lines[-1]

    def answerer(self, line: Line, answer: Callable[[bytes], bytes], *, fixed: int = 0) -> Answerer:
        self.answerers.append(Answerer(line, answer, fixed=fixed))
        return self.answerers[-1]

    def thread(
        self, port: str, shape: Shape | str, *, clock: Clock | None = None, **more: object
    ) -> InstrumentThread:
        """Start the thread of an instrument and wait until its port is open or lost."""
        shape = SHAPES[shape] if isinstance(shape, str) else shape
        clock = clock or self.clock
        instrument = Instrument.model_validate(
            {"id": "it", "port": port, "shape": shape.name, **more}
        )
        self.reader = reader_of(instrument, shape)
        sink = self.sink.of(self.reader)
        thread = InstrumentThread(instrument, shape, clock, clock.now_ns(), sink)
        self.threads.append(thread)
        thread.start()
        wait_until(lambda: thread.status().status != "opening")
        return thread

    def bad_share(self) -> float:
        """Return the share of unread lines of the instrument started last."""
        self.sink.take_all()
        return self.reader.bad_share(self.sink.batches[-1].t_ns) if self.sink.batches else 0.0

    def close(self) -> None:
        for one in self.threads:
            one.stop()
        for one in self.threads:
            one.join(DEADLINE_S)
        for one in self.answerers:
            one.stop()
        for one in self.lines:
            one.unplug()


def wait_until(look: Callable[[], object]) -> None:
    """Look again until something is true, or fail after a deadline."""
    pause, deadline = threading.Event(), time.monotonic() + DEADLINE_S
    while not look():
        assert time.monotonic() < deadline, "did not come true in time"
        pause.wait(0.005)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    """Return a bench of pseudo-terminals."""
    made = Bench(tmp_path)
    yield made
    made.close()


@pytest.fixture
def until() -> Callable[[Callable[[], object]], None]:
    """Return a function that waits until something is true."""
    return wait_until


@pytest.fixture
def emitter() -> Callable[[str], Emitter]:
    """Return the emitter of a built-in shape by name."""
    return lambda name: Emitter(SHAPES[name])

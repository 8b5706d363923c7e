"""What tests of the wire share: sample values, and bytes fed in pieces."""

from collections.abc import Callable, Iterable, Iterator

import pytest

from logger.model.bench import PortSettings
from logger.model.reading import Notice, RawReading
from logger.wire.emit import Emitter
from logger.wire.modbus import on_the_wire, plan_of, request_bytes
from logger.wire.reader import LineReader
from logger.wire.shapes.shape import Shape
from tests.wire.written import written_shapes


def sample_values(shape: Shape, step: float = 0.0) -> dict[str, float | None]:
    """Return a value for each field that every built-in format writes exactly."""
    usual = {"mass": 123.5, "temperature": 21.5, "emf": 812.5}
    return {
        name: usual[field.quantity] + step + number
        for number, (name, field) in enumerate(shape.channel.items())
    }


def message(shape: Shape, values: dict[str, float | None], **how: object) -> bytes:
    """Return what the raw stream holds of one line, or of one round of questions and answers."""
    emitter = Emitter(shape)
    if shape.decode != "modbus":
        return emitter.line(values, **how)  # type: ignore[arg-type]  # of mixed kinds
    asked = [
        on_the_wire(shape, request_bytes(shape.device, request)) for request, _ in plan_of(shape)
    ]
    return b"".join(q + emitter.reply(q, values, **how) for q in asked)


def fresh(shape: Shape, *, at_start: bool = True) -> LineReader:
    """Return a reader; `at_start` says that the first byte begins a line."""
    reader = LineReader(shape, settings=PortSettings(), delay_s=0.0)
    if at_start:
        reader.reset(-1_000_000_000)
    return reader


def pieces(data: bytes, size: int) -> Iterator[bytes]:
    """Cut data into pieces of a size."""
    for at in range(0, len(data), size):
        yield data[at : at + size]


def feed(reader: LineReader, chunks: Iterable[bytes]) -> list[RawReading | Notice]:
    """Feed chunks, one each 10 ms."""
    out: list[RawReading | Notice] = []
    for number, chunk in enumerate(chunks):
        out += reader.feed(chunk, number * 10_000_000)
    return out


def said(outcomes: Iterable[RawReading | Notice]) -> list[tuple[object, ...]]:
    """Return outcomes without their times."""
    return [
        (o.kind, o.field, o.text) if isinstance(o, Notice) else (o.field, o.value, o.unit, o.flags)
        for o in outcomes
    ]


@pytest.fixture
def wire() -> "Wire":
    """Return the helpers of this room's tests."""
    return Wire()


class Wire:
    """The helpers, as one thing that tests can ask for."""

    values: Callable[..., dict[str, float | None]] = staticmethod(sample_values)
    message: Callable[..., bytes] = staticmethod(message)
    fresh: Callable[..., LineReader] = staticmethod(fresh)
    pieces: Callable[..., Iterator[bytes]] = staticmethod(pieces)
    feed: Callable[..., list[RawReading | Notice]] = staticmethod(feed)
    said: Callable[..., list[tuple[object, ...]]] = staticmethod(said)


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Run a test that asks for ``shape`` with every built-in one, in one unit each."""
    if "shape" in metafunc.fixturenames:
        shapes = written_shapes()
        metafunc.parametrize("shape", shapes.values(), ids=list(shapes))

"""Does a line format read its own samples as it says?

Pure. A format that reads one otherwise is refused when it is loaded from a file.
"""

from logger.model.bench import PortSettings
from logger.model.reading import Flag, RawReading
from logger.wire.emit import framed
from logger.wire.reader import LineReader
from logger.wire.shapes.shape import Shape
from logger.wire.shapes.tables import Sample

CLOSE = 1e-6
"""A value this near to the stated one is that [g, degC or uV]."""


def sample_bytes(shape: Shape, sample: Sample) -> bytes:
    """Return a sample as it goes over the wire; a binary one is written as hex digits."""
    if shape.decode == "binary":
        return bytes.fromhex(sample.sent)
    return framed(shape.frame, sample.sent)


def wrong_samples(shape: Shape) -> list[str]:
    """Return what is wrong with how a format reads its samples, in their order; empty is right."""
    reader = LineReader(shape, settings=PortSettings(), delay_s=0.0)
    reader.reset(-1_000_000_000)
    wrong = []
    for number, sample in enumerate(shape.sample):
        out = reader.feed(sample_bytes(shape, sample), number * 1_000_000_000)
        read = {o.field: o for o in out if isinstance(o, RawReading)}
        wanted = dict.fromkeys(sample.none, None) | sample.gives
        values = {name: one.value for name, one in read.items()}
        if set(values) != set(wanted) or not all(
            _close(values[name], value) for name, value in wanted.items()
        ):
            wrong.append(f"{sample.sent!r} gives {values or 'nothing'}, not {wanted or 'nothing'}")
        for one in read.values():
            missing = set(sample.says) - _says(one.flags)
            if missing:
                wrong.append(f"{sample.sent!r} does not say {', '.join(sorted(missing))}")
    return wrong


def _close(value: float | None, wanted: float | None) -> bool:
    if value is None or wanted is None:
        return value is wanted
    return abs(value - wanted) <= CLOSE


def _says(flags: int) -> set[str]:
    words = {Flag.STABLE: "stable", Flag.UNSTABLE: "moving"}
    found = {word for flag, word in words.items() if flags & flag}
    return found | {"net" if flags & Flag.NET else "gross"}

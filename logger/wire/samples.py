"""Does a line format read its own samples as it says?

Pure. A format that reads one otherwise is refused when it is loaded from a file.
"""

from collections.abc import Mapping

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
    """Return what is wrong with how a format reads its samples; empty is right.

    Each is read behind those before it, whose unit may hold for it, and else alone: an instrument
    prints one of the labels and widths that samples show, not one after the other.
    """
    reader = _fresh(shape)
    wrong = []
    for number, sample in enumerate(shape.sample):
        wanted = dict.fromkeys(sample.none, None) | sample.gives
        data = sample_bytes(shape, sample)
        read = _read(reader, data, number)
        if not _are(read, wanted):
            read = _read(_fresh(shape), data, number)
        values = {name: one.value for name, one in read.items()}
        if not _are(read, wanted):
            wrong.append(f"{sample.sent!r} gives {values or 'nothing'}, not {wanted or 'nothing'}")
        for one in read.values():
            missing = set(sample.says) - _says(one.flags)
            if missing:
                wrong.append(f"{sample.sent!r} does not say {', '.join(sorted(missing))}")
    return wrong


def _fresh(shape: Shape) -> LineReader:
    reader = LineReader(shape, settings=PortSettings(), delay_s=0.0)
    reader.reset(-1_000_000_000)
    return reader


def _read(reader: LineReader, data: bytes, number: int) -> dict[str, RawReading]:
    out = reader.feed(data, number * 1_000_000_000)
    return {o.field: o for o in out if isinstance(o, RawReading)}


def _are(read: Mapping[str, RawReading], wanted: Mapping[str, float | None]) -> bool:
    """Whether what was read is what the sample says."""
    same = set(read) == set(wanted)
    return same and all(_close(read[name].value, value) for name, value in wanted.items())


def _close(value: float | None, wanted: float | None) -> bool:
    if value is None or wanted is None:
        return value is wanted
    return abs(value - wanted) <= CLOSE


def _says(flags: int) -> set[str]:
    words = {Flag.STABLE: "stable", Flag.UNSTABLE: "moving"}
    found = {word for flag, word in words.items() if flags & flag}
    return found | {"net" if flags & Flag.NET else "gross"}

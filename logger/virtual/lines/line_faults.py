"""Faults of the line, on the bytes: a good line in, what really goes over the wire out.

Pure; ``instruments`` calls it for each line while a fault is on.
"""

import numpy as np

from logger.wire.emit import Emitter
from logger.wire.shapes.shape import Shape, builtin_shapes

JUNK = b"#" * 4096
ENDLESS_BYTES = 1_000_000
FLOOD_LINES_PER_S = 50_000


def spoiled(
    name: str, line: bytes, place: int, last: bool, rng: np.random.Generator
) -> list[bytes]:
    """Return what is sent instead of a line, in slices.

    Parameters
    ----------
    name : str
        Fault of the line, a key of ``faults.FAULTS``.
    line : bytes
        The line with its end.
    place : int
        How many lines the fault has struck before this one.
    last : bool
        Whether the next line is no longer struck.
    rng : numpy.random.Generator
        For garbage.

    Returns
    -------
    list of bytes
        More than one where the slices leave some milliseconds apart; empty for nothing.
    """
    body = line.rstrip(b"\r\n")
    if name == "silence" or (name == "slow" and place % 5):
        return []
    if name == "partial":
        return [line[: max(1, len(body) - 3)]] if place == 0 else [line]
    if name == "split":
        third = max(1, len(line) // 3)
        return [line[:third], line[third : 2 * third], line[2 * third :]]
    if name in ("garbage", "wrong_baud"):
        count = len(line) if name == "wrong_baud" else int(rng.integers(1, 2 * len(line)))
        return [bytes(rng.integers(0x80, 0x100, count, dtype=np.uint8))]
    if name == "merged":
        return [body] if place % 2 == 0 and not last else [line]
    if name == "nul":
        return [b"\x00" + line]
    if name == "non_utf8":
        middle = len(body) // 2
        return [line[:middle] + b"\xff" + line[middle:]]
    if name == "echo":
        return [(b"# cal ok\r\n", b"SI\r\n", b"ready, virtual\r\n")[place % 3] + line]
    return [line]


def stranger_line(shape: Shape, place: int) -> bytes:
    """Return a line of some other device."""
    weighs = any(field.quantity == "mass" for field in shape.channel.values())
    name = "comma list of 2 probes" if weighs else "flag-first comma weight"
    emitter = Emitter(builtin_shapes()[name])
    if weighs:
        return emitter.line({"t1": 21.4 + 0.01 * (place % 7), "t2": 4.2})
    return emitter.line({"mass": 105.0 + 0.1 * (place % 5)})

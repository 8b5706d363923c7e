"""Seals: 64-bit digests of rows, over all their fields and over whose they are.

Pure functions of values. A seal is made where a row is written and compared where it is read; it
finds damage, and is no signature: whoever writes a file can seal what he likes.

A seal is BLAKE2b (RFC 7693) of 8 bytes. Its personalization is a digest of the run's id and the
table's name, so a row of another run or of another table never fits. The key columns of a row are
among its fields.
"""

import hashlib
import math
import struct
from typing import Any

import numpy as np
from numpy.typing import NDArray

SEAL_BYTES = 8
UNSEALED = b""
"""In place of a seal where damage was found before the row was bound: it never fits."""

TAIL_ROW = struct.Struct("<qqdqd")
"""A tail row as it is sealed: n, t_us, value, flags, cold junction; nan for none."""
TAIL_TYPE = np.dtype(
    [("n", "<i8"), ("t_us", "<i8"), ("value", "<f8"), ("flags", "<i8"), ("cold", "<f8")]
)
"""The same for numpy."""

_NONE, _INT, _FLOAT, _BYTES = (
    b"\x00",
    struct.Struct("<cq"),
    struct.Struct("<cd"),
    struct.Struct("<cI"),
)

_CHUNK = struct.Struct("<cqcqcqcqcI")


def digest(data: bytes | memoryview) -> bytes:
    """Return the digest of bytes alone; it stands in a row that is sealed."""
    return hashlib.blake2b(data, digest_size=SEAL_BYTES).digest()


class Sealer:
    """Makes the seals of one run.

    Parameters
    ----------
    run_id : str
        The run whose rows they are.
    """

    def __init__(self, run_id: str) -> None:
        self.run_id = run_id
        self._person: dict[str, bytes] = {}

    def row(self, table: str, *fields: Any) -> bytes:
        """Return the seal of a row.

        Parameters
        ----------
        table : str
            Its table, or part of the run's row.
        *fields
            All its fields in order: None, int, float, str or bytes. Text and its UTF-8 are one.
        """
        parts: list[bytes] = []
        for value in fields:
            if value is None:
                parts.append(_NONE)
            elif isinstance(value, int):
                parts.append(_INT.pack(b"\x01", value))
            elif isinstance(value, float):
                parts.append(_FLOAT.pack(b"\x02", value + 0.0))
            else:
                data = value.encode() if isinstance(value, str) else value
                parts += (_BYTES.pack(b"\x03", len(data)), data)
        return self._of(table, b"".join(parts))

    def chunk(self, n: int, instrument: int, t_ns: int, kind: int, data: bytes) -> bytes:
        """Return the seal of a row of ``chunk``, as `row` makes it, only faster.

        Parameters
        ----------
        n : int
            Number of the chunk.
        instrument : int
            Number of the instrument.
        t_ns : int
            Time on the run's axis [ns].
        kind : int
            Place in `CHUNK_KINDS`.
        data : bytes
            As they came.
        """
        one = b"\x01"
        head = _CHUNK.pack(one, n, one, instrument, one, t_ns, one, kind, b"\x03", len(data))
        return self._of("chunk", head + data)

    def group(self, channel: int, rows: bytes | memoryview) -> bytes:
        """Return the seal of a group of tail rows of a channel, packed as `TAIL_ROW`.

        Parameters
        ----------
        channel : int
            Number of the channel.
        rows : bytes
            One row behind the other.
        """
        return self._of(f"tail {channel}", rows)

    def _of(self, table: str, data: bytes | memoryview) -> bytes:
        person = self._person.get(table)
        if person is None:
            name = f"{self.run_id}\n{table}".encode()
            person = hashlib.blake2b(name, digest_size=16).digest()
            self._person[table] = person
        return hashlib.blake2b(data, digest_size=SEAL_BYTES, person=person).digest()


def packed_rows(rows: list[tuple[Any, ...]]) -> NDArray[Any]:
    """Return tail rows (n, t_us, value, flags, cold junction, more) as records to be sealed.

    Raises
    ------
    ValueError, TypeError, OverflowError
        If a field is not of its kind: the row is damaged.
    """
    found = np.empty(len(rows), dtype=TAIL_TYPE)
    if not rows:
        return found
    n, t_us, value, flags, cold = tuple(zip(*rows, strict=True))[:5]
    for column in (n, t_us, flags):
        if set(map(type, column)) != {int}:
            raise TypeError("a whole number was stored there")
    for column in (value, cold):
        if not set(map(type, column)) <= {float, type(None)}:
            raise TypeError("a number was stored there")
    found["n"], found["t_us"], found["flags"] = n, t_us, flags
    for name, numbers in (("value", value), ("cold", cold)):
        floats = np.array(numbers, dtype=np.float64)
        floats[np.isnan(floats)] = math.nan
        found[name] = floats
    return found

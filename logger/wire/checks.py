"""Check bytes and check digits of frames: XOR, sum, CRC, LRC.

Pure. Used by ``framing`` and ``modbus`` for reading, and by ``emit`` for writing.

References
----------
MODBUS over Serial Line Specification and Implementation Guide V1.02, section 6.2.1 (LRC), 6.2.2
(CRC). IEC 61162-1, sentences: the XOR of what stands between the first character and the ``*``
(from memory).
"""

from collections.abc import Callable
from typing import NamedTuple


def xor(data: bytes) -> int:
    """Return the XOR of all bytes."""
    found = 0
    for byte in data:
        found ^= byte
    return found


def byte_sum(data: bytes) -> int:
    """Return the sum of all bytes, of which one byte is kept."""
    return sum(data) & 0xFF


def lrc(data: bytes) -> int:
    """Return the byte that makes the sum of all bytes zero (V1.02, section 6.2.1)."""
    return -sum(data) & 0xFF


def crc16(data: bytes) -> bytes:
    """Return the CRC of an RTU frame, low byte first (V1.02, section 6.2.2)."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (0xA001 if crc & 1 else 0)
    return crc.to_bytes(2, "little")


def _crc16_number(data: bytes) -> int:
    return int.from_bytes(crc16(data), "little")


def _xor_behind_first(data: bytes) -> int:
    return xor(data[1:])


class Check(NamedTuple):
    """How a frame is checked."""

    digits: int
    """Hex digits in front of the end; 0 is one byte behind it."""
    of: Callable[[bytes], int]
    mark: bytes = b""
    """Stands in front of the digits."""

    def text(self, data: bytes) -> bytes:
        """Return the check as it is sent."""
        found = self.of(data)
        return self.mark + b"%0*X" % (self.digits, found) if self.digits else bytes([found])

    def taken_off(self, line: bytes) -> bytes | None:
        """Return a line without its check digits; None where they do not fit."""
        size = len(self.mark) + self.digits
        body, digits = line[:-size], line[-size:]
        return body if digits.upper() == self.text(body) else None


CHECKS: dict[str, Check] = {
    "xor": Check(0, xor),
    "xor hex": Check(2, xor),
    "xor hex behind *": Check(2, _xor_behind_first, b"*"),
    "sum": Check(0, byte_sum),
    "sum hex": Check(2, byte_sum),
    "lrc hex": Check(2, lrc),
    "crc16 hex": Check(4, _crc16_number),
}

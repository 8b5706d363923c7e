"""Whether bytes are a photo as a run file keeps it: one plain JPEG, no metadata, not too large.

Pure; decodes no picture. Asked at every door to the run file, so that what a client sends is never
kept unless it has the form that ``logger.store.photos.encoding`` gives a photo.

References
----------
ITU-T T.81 (09/92), annex B: markers and segments.
"""

from dataclasses import dataclass

from logger.model.errors import InputError

MOST_BYTES = 700_000
"""Largest photo that is kept [bytes]."""
MOST_PX = 1_600
"""Longest side of it [px]."""
MOST_PHOTOS = 24
"""Photos of one run, at most."""

_SOI, _EOI, _SOS, _DRI, _APP0 = 0xD8, 0xD9, 0xDA, 0xDD, 0xE0
_FRAMES = frozenset({0xC0, 0xC1, 0xC2})
"""Baseline, extended and progressive DCT (T.81, table B.1)."""
_TABLES = frozenset({0xC4, 0xDB, _DRI, _APP0})
"""Huffman and quantization tables, restart interval, JFIF: all else would be metadata."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """Width and height of a picture [px]."""

    width: int
    height: int


def require_kept_form(data: bytes, where: str = "photo") -> Size:
    """Return the size of a photo that is in the form in which it is kept.

    Parameters
    ----------
    data : bytes
        The picture.
    where : str
        Where it was given, for the message.

    Raises
    ------
    InputError
        If it is larger, no JPEG, cut off, or holds metadata such as a position.
    """
    if len(data) > MOST_BYTES:
        found = f"a photo of {len(data)} bytes"
        raise InputError(where, found, f"at most {MOST_BYTES} bytes are kept; make it smaller")
    size = _size_of(data, where)
    if max(size.width, size.height) > MOST_PX or min(size.width, size.height) < 1:
        found = f"a photo of {size.width} x {size.height} px"
        raise InputError(where, found, f"at most {MOST_PX} px a side are kept; make it smaller")
    return size


def _size_of(data: bytes, where: str) -> Size:
    """Go through the segments ahead of the picture's scans; each must be one that a photo needs."""
    if data[:2] != bytes((0xFF, _SOI)) or data[-2:] != bytes((0xFF, _EOI)):
        raise InputError(where, "not a whole JPEG", "send it through 'bainlog photo' or its page")
    at, size = 2, None
    while at + 4 <= len(data):
        mark, length = data[at + 1], int.from_bytes(data[at + 2 : at + 4])
        if data[at] != 0xFF or length < 2 or at + 2 + length > len(data):
            break
        if mark == _SOS and size is not None:
            return size
        if mark in _FRAMES and length >= 8:
            size = Size(
                height=int.from_bytes(data[at + 5 : at + 7]),
                width=int.from_bytes(data[at + 7 : at + 9]),
            )
        elif mark not in _TABLES:
            found = f"a JPEG with metadata (segment {mark:02X})"
            raise InputError(where, found, "send it through 'bainlog photo' or its page")
        at += 2 + length
    raise InputError(where, "a damaged JPEG", "take the photo again, or use a copy of it")

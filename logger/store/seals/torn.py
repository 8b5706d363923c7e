"""A log (``-wal``) whose end does not read: what was saved last is gone, unsaid by SQLite.

SQLite takes the log as far as its check sums go and passes over the rest in silence: right after a
kill or a power cut in mid-commit, but a flipped bit in the log loses what was saved behind it. Here
the frames behind the last good one are looked at (sqlite.org/fileformat2.html, section 4, "The
Write-Ahead Log"). Only reads; for files that nobody is writing.
"""

import struct
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

_HEADER = struct.Struct(">8I")
"""Magic, version, page size, checkpoint number, two salts, two check sums."""
_FRAME = struct.Struct(">6I")
"""Page number, pages after a commit or 0, two salts, two check sums."""
_MAGIC = 0x377F0682
"""The lowest bit says whether check sums are over big-endian words."""
_MASK = 0xFFFFFFFF
_FLIPPED_BITS = 2
"""Salts that differ in so few bits are the same salts, damaged."""


def is_torn(log: Path) -> bool:
    """Return whether the log holds a commit that does not read any more.

    A commit that a kill cut off before its end is none, and no damage.
    """
    try:
        data = log.read_bytes()
    except OSError:
        return False
    if len(data) < _HEADER.size:
        return False
    magic, _, page_bytes, _, *salts = _HEADER.unpack_from(data)[:6]
    big = magic & 1 == 1
    sums = _check_sum(data[:24], big, (0, 0))
    if magic & ~1 != _MAGIC or sums != _HEADER.unpack_from(data)[6:]:
        return len(data) > _HEADER.size
    return _torn_frames(data, page_bytes, (salts[0], salts[1]), big, sums)


def _torn_frames(
    data: bytes, page_bytes: int, salts: tuple[int, int], big: bool, sums: tuple[int, int]
) -> bool:
    step = _FRAME.size + page_bytes
    whole = True
    for at in range(_HEADER.size, len(data) - step + 1, step):
        _, _, *found = _FRAME.unpack_from(data, at)
        ours = (found[0], found[1]) == salts
        if not (whole and ours):
            # Frames of an older round of the log may lie behind; none of this one does.
            whole = False
            if _nearly((found[0], found[1]), salts):
                return True
            continue
        frame = data[at : at + 8] + data[at + _FRAME.size : at + step]
        before, sums = sums, _check_sum(frame, big, sums)
        if sums != (found[2], found[3]):
            return _is_ours_behind(data, at + step, step, salts) or _is_one_bit_off(
                frame, big, before, (found[2], found[3])
            )
    return False


def _is_ours_behind(data: bytes, at: int, step: int, salts: tuple[int, int]) -> bool:
    """Return whether a frame of this round of the log lies behind: then this one was whole once."""
    return any(
        _nearly((found[2], found[3]), salts)
        for found in (
            _FRAME.unpack_from(data, place) for place in range(at, len(data) - step + 1, step)
        )
    )


def _is_one_bit_off(
    frame: bytes, big: bool, before: tuple[int, int], wanted: tuple[int, int]
) -> bool:
    """Return whether one flipped bit explains the check sum of the last frame.

    None does where a kill fell between the two writes of a frame, over an older round of the log:
    its head is new, its page still the old one, and nobody was told that it is saved.
    """
    sums = _check_sum(frame, big, before)
    if sum((one ^ other).bit_count() for one, other in zip(sums, wanted, strict=True)) == 1:
        return True
    words = np.frombuffer(frame, ">u4" if big else "<u4").astype(np.uint64)
    a, b, c = (entry[1:] for entry in _powers(len(words) // 2))
    by_word = np.empty((2, len(words)), np.uint64)
    by_word[0, 0::2], by_word[0, 1::2] = a + b, b
    by_word[1, 0::2], by_word[1, 1::2] = b + c, c
    short = [np.uint64((w - s) & _MASK) for w, s in zip(wanted, sums, strict=True)]
    for bit in range(32):
        mask = np.uint64(1 << bit)
        change = np.where(words & mask, np.uint64(_MASK + 1) - mask, mask)
        moved = (by_word * change) & np.uint64(_MASK)
        if ((moved[0] == short[0]) & (moved[1] == short[1])).any():
            return True
    return False


def _check_sum(data: bytes, big: bool, sums: tuple[int, int]) -> tuple[int, int]:
    """Carry the log's check sum on over bytes: s0 += x[i] + s1, s1 += x[i+1] + s0, modulo 2**32.

    Linear in the words, so it is a sum of them times powers of one matrix.
    """
    words = np.frombuffer(data, ">u4" if big else "<u4").astype(np.uint64).reshape(-1, 2)
    first, both = words[:, 0], words[:, 0] + words[:, 1]
    a, b, c = _powers(len(words))
    s0 = int(a[0]) * sums[0] + int(b[0]) * sums[1]
    s1 = int(b[0]) * sums[0] + int(c[0]) * sums[1]
    s0 += int((a[1:] * first + b[1:] * both).sum(dtype=np.uint64))
    s1 += int((b[1:] * first + c[1:] * both).sum(dtype=np.uint64))
    return s0 & _MASK, s1 & _MASK


@cache
def _powers(pairs: int) -> tuple[NDArray[np.uint64], ...]:
    """Return the entries of ((1, 1), (1, 2)) to the powers from `pairs` down to 0, mod 2**32."""
    entries = [(1, 0, 1)]
    for _ in range(pairs):
        a, b, c = entries[-1]
        entries.append(((a + b) & _MASK, (b + c) & _MASK, (b + 2 * c) & _MASK))
    return tuple(np.array(column[::-1], dtype=np.uint64) for column in zip(*entries, strict=True))


def _nearly(found: tuple[int, int], salts: tuple[int, int]) -> bool:
    """Return whether salts are those of this log but for a flipped bit; old ones differ in more."""
    first, second = ((one ^ other).bit_count() for one, other in zip(found, salts, strict=True))
    return first + second <= _FLIPPED_BITS

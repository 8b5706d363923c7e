"""Everything in a run file looked at: what is damaged, by part, channel, number and time.

Reads all bytes that a seal covers; decodes none. Runs within a look that others took.
"""

import hashlib
import json
from collections.abc import Iterator, Mapping

import apsw

from logger.model.event import PHOTO, REMOVE_PHOTO
from logger.store.seals.damage import Damage, DamagedPart
from logger.store.seals.look import Look
from logger.store.seals.pieces import Block, hole_of, is_marked, read_blob
from logger.store.seals.rows import gaps_in, read_rows
from logger.store.seals.scan import BROKEN, scan
from logger.store.seals.tally import LOG_GONE, LOG_TORN, PARTS, Tally


def survey(look: Look, channels: Mapping[int, str]) -> list[Damage]:
    """Return all that is damaged in a bound file.

    Parameters
    ----------
    look : Look
        At the file.
    channels : mapping of str
        Ids of the whole channels by number.
    """
    tally = look.tally
    if tally is None:
        return []
    found = list(_of_the_whole(look, tally))
    found += [Damage(part=part) for part in PARTS if look.part(part) is None]
    expected = len(tally.counts.readings) if tally.counts is not None else 0
    found += [Damage(part="channel")] * (len(gaps_in(sorted(channels), 0, expected - 1)) > 0)
    for number, name in channels.items():
        found += _of_channel(look, number, name)
    found += _of_events(look)
    found += _of_chunks(look)
    found += _of_tables(look, tally)
    found += _of_photos(look)
    return found


def _of_the_whole(look: Look, tally: Tally) -> Iterator[Damage]:
    counts = tally.counts
    if counts is None or tally.doubt & ~(LOG_TORN | LOG_GONE):
        yield Damage(part="counts")
    if tally.doubt & LOG_TORN:
        yield Damage(part="log")
    if tally.doubt & LOG_GONE:
        yield Damage(part="no log")
    if counts is not None and counts.version != look.db.pragma("user_version"):
        yield Damage(part="format")


def _of_channel(look: Look, number: int, name: str) -> Iterator[Damage]:
    pieces = look.pieces(number)
    holes = list(pieces.holes)
    for block in pieces.blocks:
        bad = [place for place in (0, 1, 2) if not _fits(look, number, block, place)]
        if 0 in bad:
            holes.append(hole_of(block))
        elif bad:
            yield Damage(
                part="overview",
                channel=name,
                from_s=block.t_min_us / 1e6,
                to_s=block.t_max_us / 1e6,
            )
    for hole in sorted(holes, key=lambda hole: hole.first_n):
        yield hole.damage(name)


def _fits(look: Look, number: int, block: Block, place: int) -> bool:
    if place < 2:
        return read_blob(look.db, look.sealer, number, block, place) is not None
    try:
        data = look.db.execute(
            "SELECT coarse FROM block WHERE channel = ? AND first_n = ?", (number, block.first_n)
        ).get
    except BROKEN:
        return False
    return is_marked(block, data)


def _of_events(look: Look) -> Iterator[Damage]:
    rows = look.events()
    counts = look.counts
    last = counts.events if counts is not None else (rows[-1][0] if rows else 0)
    yield from (
        Damage(part="events", first=first, last=end)
        for first, end in gaps_in([row[0] for row in rows], 1, last)
    )
    if look.tally is not None and counts is None:
        present = scan(look.db, "SELECT seq FROM event", "seq")
        if len(present) > len(rows):
            yield Damage(part="events")


def _of_photos(look: Look) -> Iterator[Damage]:
    """Give the pictures that whole events name and that are not there as they were added."""
    named: list[tuple[int, str]] = []
    for row in look.events():
        if row[2] not in (PHOTO, REMOVE_PHOTO):
            continue
        sha256 = json.loads(row[-1]).get("sha256")
        if row[2] == REMOVE_PHOTO:
            named = [one for one in named if one[1] != sha256]
        elif isinstance(sha256, str):
            named.append((row[0], sha256))
    for number, sha256 in named:
        if picture_of(look, sha256) is None:
            yield Damage(part="photo", first=number)


def picture_of(look: Look, sha256: str) -> bytes | None:
    """Return the picture with a digest, or None where none has it.

    Parameters
    ----------
    look : Look
        At the file.
    sha256 : str
        In hexadecimal.
    """
    try:
        data = look.db.execute("SELECT data FROM photo WHERE sha256 = ?", (sha256,)).get
    except (*BROKEN, apsw.SQLError):  # a file of before version 4 has no such table
        return None
    whole = isinstance(data, bytes) and hashlib.sha256(data).hexdigest() == sha256
    return data if whole else None


def _of_chunks(look: Look) -> Iterator[Damage]:
    spans: list[tuple[int, int, int, int]] = []
    for first_n, count, t_min, t_max, *_ in read_rows(look.db, look.sealer, "chunk_block"):
        spans.append((first_n, count, t_min, t_max))
    for n, _, t_ns, _, _ in read_rows(look.db, look.sealer, "chunk"):
        spans.append((n, 1, t_ns, t_ns))
    here, last_ns = 0, None
    for first_n, count, t_min, t_max in sorted(spans):
        if first_n > here:
            yield _chunks_gone(here, first_n - 1, last_ns, t_min)
        here, last_ns = max(here, first_n + count), t_max
    if look.counts is not None and here < look.counts.chunks:
        yield _chunks_gone(here, look.counts.chunks - 1, last_ns, None)


def _chunks_gone(first: int, last: int, from_ns: int | None, to_ns: int | None) -> Damage:
    return Damage(
        part="raw bytes",
        first=first,
        last=last,
        from_s=None if from_ns is None else from_ns / 1e9,
        to_s=None if to_ns is None else to_ns / 1e9,
    )


def _of_tables(look: Look, tally: Tally) -> Iterator[Damage]:
    counts = tally.counts
    tables: tuple[tuple[str, DamagedPart, int], ...] = (
        ("anchor", "clocks", counts.anchors if counts else 0),
        ("counter", "counters", counts.counters if counts else 0),
        ("instrument", "raw bytes", counts.instruments if counts else 0),
    )
    for table, part, expected in tables:
        if len(read_rows(look.db, look.sealer, table)) < expected:
            yield Damage(part=part)

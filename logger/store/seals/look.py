"""One look at a run file: a consistent snapshot with its seals, and what was found in it so far."""

from dataclasses import dataclass, field
from typing import Any

import apsw

from logger.store.seals.damage import DamagedPart
from logger.store.seals.digest import Sealer
from logger.store.seals.pieces import Known, Pieces, read_pieces
from logger.store.seals.rows import read_rows
from logger.store.seals.tally import Counts, Tally, is_bound, read_part, read_tally


@dataclass(slots=True, kw_only=True)
class Look:
    """A snapshot of a run file.

    Attributes
    ----------
    db : apsw.Connection
        Read-only, within one transaction.
    tally : Tally or None
        None for a file of a version without seals.
    known : Known
        What was whole in this or an earlier look.
    """

    db: apsw.Connection
    tally: Tally | None
    known: Known
    _pieces: dict[int, Pieces] = field(default_factory=dict)
    _parts: dict[DamagedPart, tuple[Any, ...] | None] = field(default_factory=dict)
    _events: list[tuple[Any, ...]] | None = None

    @property
    def sealer(self) -> Sealer | None:
        """What made the seals; None in a file that has none."""
        return None if self.tally is None else self.tally.sealer

    @property
    def counts(self) -> Counts | None:
        """What must be in the file; None where that is not known."""
        return None if self.tally is None else self.tally.counts

    @property
    def version(self) -> int:
        """Number of the last change the file has seen."""
        counts = self.counts
        found: int = self.db.pragma("user_version") if counts is None else counts.version
        return found

    def part(self, part: DamagedPart) -> tuple[Any, ...] | None:
        """Return a part of the run's row, or None where it is damaged; read once in a look.

        Parameters
        ----------
        part : str
            One of ``tally.PARTS``.
        """
        if part not in self._parts:
            self._parts[part] = read_part(self.db, self.tally, part)
        return self._parts[part]

    def events(self) -> list[tuple[Any, ...]]:
        """Return the whole rows of all events; read once in a look."""
        if self._events is None:
            self._events = read_rows(self.db, self.sealer, "event")
        return self._events

    def last_event_ns(self) -> int:
        """Return the time of the latest whole event [ns]; 0 without any."""
        rows = self._events
        if rows is None:
            latest = "WHERE t_ns = (SELECT max(t_ns) FROM event)"
            rows = read_rows(self.db, self.sealer, "event", latest) or self.events()
        return max((int(row[1]) for row in rows), default=0)

    def pieces(self, number: int) -> Pieces:
        """Return what is whole of a channel by its number."""
        found = self._pieces.get(number)
        if found is None:
            counts = self.counts
            known = counts is not None and number < len(counts.readings)
            expected = counts.readings[number] if counts is not None and known else None
            found = read_pieces(self.db, self.sealer, number, expected, self.known)
            self._pieces[number] = found
        return found


def look_at(db: apsw.Connection, known: Known) -> Look | None:
    """Return a look through a connection; None where the file does not say whose it is.

    Parameters
    ----------
    db : apsw.Connection
        Read-only, within one transaction.
    known : Known
        Of earlier looks at the same file.
    """
    if not is_bound(db):
        return Look(db=db, tally=None, known=known)
    tally = read_tally(db)
    return None if tally is None else Look(db=db, tally=tally, known=known)

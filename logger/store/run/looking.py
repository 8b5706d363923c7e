"""How a run file is looked at: opened read-only, one snapshot, closed again.

A reader never holds the writer up and keeps no log alive; what is damaged is told as such.
"""

import struct
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import apsw
import zstandard

from logger.model.errors import BainlogError, StoreError
from logger.store.run.schema import reading


class Looking:
    """A run file and the way to look at it; what is asked stands in its children."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._held: apsw.Connection | None = None

    @contextmanager
    def together(self) -> Iterator[Self]:
        """Answer all questions within from one snapshot: faster for many, and consistent.

        Keep it short while the run is written: the log cannot shrink meanwhile. One thread only.
        """
        with reading(self.path) as db:
            self._held = db
            try:
                yield self
            finally:
                self._held = None

    @contextmanager
    def _look(self) -> Iterator[apsw.Connection]:
        with self._decoding():
            if self._held is not None:
                yield self._held
                return
            with reading(self.path) as db:
                yield db

    def close(self) -> None:
        """Nothing is held between questions; here for symmetry."""

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _get(self, sql: str) -> Any:
        with self._look() as db:
            return db.execute(sql).get

    def _row(self, sql: str) -> tuple[Any, ...]:
        with self._look() as db:
            row: tuple[Any, ...] | None = db.execute(sql).fetchone()
        if row is None:
            raise StoreError(f"{self.path}: holds no run")
        return row

    @contextmanager
    def _decoding(self, what: str = "a block") -> Iterator[None]:
        """Say that a part of the file is damaged, whatever its damage breaks."""
        try:
            yield
        except BainlogError:
            raise
        except (zstandard.ZstdError, struct.error, ValueError, LookupError, TypeError) as cause:
            first = (str(cause).splitlines() or [""])[0][:200]
            raise StoreError(f"{self.path}: {what} is damaged ({first})") from cause

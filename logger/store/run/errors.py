"""Errors of the store beside those of the model."""

from collections.abc import Sequence
from pathlib import Path

from logger.model.errors import BadFileError, StoreError
from logger.store.run.records import WriteBatch
from logger.store.seals.damage import Damage, DamagedPart, sentence


class DiskFullError(StoreError):
    """There was no room for a transaction; it was rolled back and nothing saved was lost.

    Parameters
    ----------
    where : str
        The run file.
    batch : WriteBatch or None
        What could not be saved; the caller keeps it (``ring``) and tries again.
    """

    def __init__(self, where: str, batch: WriteBatch | None = None) -> None:
        super().__init__(
            f"{where}: no room left on the disk; free some and it goes on automatically"
        )
        self.batch = batch


class NewerFileError(BadFileError):
    """The run file was made by a newer version of bainlog than this one.

    Parameters
    ----------
    path : Path
        The run file.
    why : str
        What this edition does not know.
    """

    def __init__(self, path: Path, why: str) -> None:
        super().__init__(
            f"{path}: made by a newer version of bainlog: {why}; update bainlog to open it"
        )


NEEDED: tuple[DamagedPart, ...] = ("header", "end")
"""Without these nothing is shown of a run."""


class DamagedError(BadFileError):
    """A part of a run file that was asked for is damaged.

    Parameters
    ----------
    path : Path
        The run file.
    damage : sequence of Damage
        What is damaged of what was asked for; at least one.
    """

    def __init__(self, path: Path, damage: Sequence[Damage]) -> None:
        more = f" And {len(damage) - 1} more." if len(damage) > 1 else ""
        rest = "Use a copy of it." if damage[0].part in NEEDED else "'bainlog show' shows the rest."
        super().__init__(f"{path}: {sentence(damage[0])}{more} {rest}")
        self.damage = tuple(damage)

"""Errors of the store beside those of the model."""

from logger.model.errors import StoreError
from logger.store.run.records import WriteBatch


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
        super().__init__(f"{where}: no room left on the disk; free some and it goes on by itself")
        self.batch = batch


class NewerFileError(StoreError):
    """The run file was written by a later bainlog than this one."""

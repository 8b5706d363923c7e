"""The names that the rest of the house uses of a run file.

``RunWriter`` for the recorder and the importer, ``RunView`` for everyone who reads: any number of
readers in any number of processes beside the one writer.
"""

from logger.model.errors import StoreError
from logger.store.run.errors import DiskFullError, NewerFileError
from logger.store.run.format import whole_us
from logger.store.run.records import (
    Anchor,
    ChannelRecord,
    Chunk,
    Envelope,
    Outcome,
    RunHeader,
    Series,
    StoredReading,
    WriteBatch,
)
from logger.store.run.view import RunView
from logger.store.run.writer import RunWriter

__all__ = [
    "Anchor",
    "ChannelRecord",
    "Chunk",
    "DiskFullError",
    "Envelope",
    "NewerFileError",
    "Outcome",
    "RunHeader",
    "RunView",
    "RunWriter",
    "Series",
    "StoreError",
    "StoredReading",
    "WriteBatch",
    "whole_us",
]

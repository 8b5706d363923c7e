"""What the owner of the run hands to the writer at the end of a turn; plain values."""

from dataclasses import dataclass, field
from typing import Any

from logger.model.finding import Results
from logger.recorder.live.command import Command, Reply
from logger.store.run.records import WriteBatch
from logger.store.run.runfile import RunWriter


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """How a run ends, once all of it is on the disk.

    Attributes
    ----------
    results : Results
        What the engine worked out.
    ended_utc_ns : int
        [ns since 1970].
    command : Command
        Answered when the run is saved.
    answer : object
        With this.
    """

    results: Results
    ended_utc_ns: int
    command: Command
    answer: Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """One turn of the owner.

    Attributes
    ----------
    file : RunWriter or None
        Where the batch goes; None while nothing is recorded.
    batch : WriteBatch
        For one transaction.
    replies : list of Reply
        Commands to answer after it.
    ending : Ending or None
        The run ends with this turn.
    state : dict or None
        For the screen, to be shown after the commit; None when nobody looks.
    """

    file: RunWriter | None
    batch: WriteBatch
    replies: list[Reply] = field(default_factory=list)
    ending: Ending | None = None
    state: dict[str, Any] | None = None

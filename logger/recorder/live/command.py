"""A command on its way from the control line to the owner of the run and back.

What a client sent was checked and parsed in the thread of its own connection
(``logger.control.requests``, ``starting``); here is what only the run under way can tell. Used by
the owner.
"""

from concurrent.futures import Future
from dataclasses import dataclass, field
from typing import Any

from logger.control.acts import require_known
from logger.control.requests import Act, AskResults, Next, RunEnd
from logger.model.bench import Bench
from logger.model.errors import InputError
from logger.model.event import Event
from logger.model.rows import StartRow
from logger.model.sheet import Sheet
from logger.recorder.corrections.goingon import Resumed
from logger.recorder.setup import Setup


@dataclass(frozen=True, slots=True, kw_only=True)
class StartRun:
    """Begin a run by a sheet that was read already, with the lots of this batch."""

    sheet: Sheet
    text: str
    """Of the sheet, as written."""
    bench: Bench
    """The bench that it was read for."""
    about: StartRow = field(default_factory=StartRow)
    """What was said of the batch."""
    do: str = "start"


@dataclass(frozen=True, slots=True, kw_only=True)
class ResumeRun:
    """Go on with a run that was judged up to its end already."""

    run: Resumed
    setup: Setup
    """The bench that it was judged for."""
    do: str = "go_on"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rewire:
    """Go on with another bench file."""

    setup: Setup
    do: str = "rewire"


Asked = Act | RunEnd | AskResults | StartRun | ResumeRun | Rewire


@dataclass(slots=True)
class Command:
    """What was asked, and where the answer goes once it is committed."""

    asked: Asked
    answer: "Future[Any]" = field(default_factory=Future)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reply:
    """An answer that waits for a commit.

    Attributes
    ----------
    command : Command
        To be answered.
    event : Event or None
        With whose commit it is answered; None is that of the turn.
    answer : object
        What to say; None is the number, time and kind of the event.
    says : str
        What was done, in words, beside these.
    """

    command: Command
    event: Event | None = None
    answer: Any = None
    says: str = ""


def check(act: Act, sheet: Sheet | None, stage: str | None, *, moving: bool = False) -> None:
    """Refuse an act that cannot mean anything now, before it becomes an event.

    Parameters
    ----------
    act : Act
        Checked by itself already.
    sheet : Sheet or None
        Sheet of the run under way; None when none is.
    stage : str or None
        Stage under way.
    moving : bool
        Another stage was asked for and is not under way yet.

    Raises
    ------
    InputError
        With the reason.
    """
    if sheet is None:
        raise InputError(act.do, "no batch is running", "start one first")
    ids = [s.id for s in sheet.stage]
    require_known(act, sheet)
    if not isinstance(act, Next):
        return
    if act.after is not None and (moving or act.after != stage):
        raise InputError(act.do, "another stage has begun meanwhile", "press again if it is over")
    if not ids or stage == ids[-1]:
        raise InputError(act.do, "this is the last stage", "end the run when the batch is done")

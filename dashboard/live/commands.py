"""From a tapped button to the recorder and back: what was asked, what came of it.

A command counts only when the recorder has committed it; until then the page says nothing, and
when it is refused or unanswered the page says so in the recorder's own words.
"""

from dataclasses import dataclass, field
from typing import Literal

from dashboard.answers import Committed
from dashboard.links import Links
from dashboard.live.asking import chosen_sheet
from logger.control.acts import require_stages
from logger.control.client import GoneError, RefusedError
from logger.model.errors import InputError, StoreError
from logger.model.event import OPERATOR_KINDS
from logger.model.state import Tone

KINDS = (*(kind for kind in OPERATOR_KINDS if kind != "run_start"), "start", "go_on")
"""Commands a page may send."""

UNDOABLE = {"next", "stage", "mark", "confirm_piece", "accept", "piece_in", "piece_out"}
"""Commands whose message offers to take them back."""

SAID = {
    "start": "The batch has started.",
    "go_on": "The batch goes on.",
    "run_end": "The batch is finished and saved.",
    "next": "Next stage.",
    "mark": "Marked.",
    "undo": "Taken back.",
    "note": "Note saved.",
    "ack": "Acknowledged.",
    "shelve": "Set aside for now. Clocks go on.",
    "unshelve": "Back in force.",
    "reset_latch": "Cleared.",
    "accept": "Done.",
    "decline": "Left as it was.",
    "confirm_piece": "Piece confirmed.",
    "piece_in": "Piece in.",
    "piece_out": "Piece out.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Command:
    """A command of the page: what to do, about what, and the page's number of it."""

    do: str = ""
    about: dict[str, object] = field(default_factory=dict)
    n: str | int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What the person is told of a command.

    Attributes
    ----------
    n : str, int or None
        Number of the command.
    text, tone : str
        The sentence, and how it looks.
    do : str
        The command, once it is done.
    run : str
        Id of the run that it ended.
    undo : int or None
        Number of the event where it can be taken back.
    """

    n: str | int | None
    text: str
    tone: Tone | Literal["good"]
    do: str = ""
    run: str = ""
    undo: int | None = None


def carry_out(links: Links, command: Command) -> Said:
    """Send one command and return what to tell the person."""
    do, number = command.do, command.n
    if do not in KINDS:
        return Said(n=number, text=f"This screen has no command {do!r}.", tone="stop")
    try:
        if do == "start":
            sheet = chosen_sheet(links, str(command.about.get("sheet") or ""))
            if sheet is not None:
                require_stages("this sheet", sheet)
        done = links.send(do, command.about, Committed)
    except (InputError, StoreError, RefusedError) as cause:
        return Said(n=number, text=f"Not done. {cause}", tone="stop")
    except GoneError as cause:
        run, event = command.about.get("run"), command.about.get("event")
        if run and do in ("undo", "move"):
            there = " --to TIME" if do == "move" else ""
            way = f"bainlog events {run} --{do} {event}{there}"
            return Said(n=number, text=f"Not done: no recorder runs. Use: {way}", tone="stop")
        return Said(n=number, text=f"Not known whether it was done: {cause}", tone="stop")
    return Said(
        n=number,
        text=f"{done.says}." if done.says else SAID.get(do, "Saved."),
        tone="good",
        do=do,
        run=done.run if do == "run_end" else "",
        undo=done.seq if do in UNDOABLE and done.seq else None,
    )

"""What the page of sheets asks of the recorder: save this text, start a batch with it.

Thin; each returns what to tell the person. Nothing is written here.
"""

from dataclasses import dataclass
from typing import NamedTuple

from dashboard.answers import Committed, SheetSaved
from dashboard.links import Links
from dashboard.sheets.outlook import MOST_TEXT
from logger.control.acts import require_stages
from logger.control.client import GoneError, RefusedError
from logger.model.errors import BainlogError, InputError
from logger.model.files import sheet_from_text
from logger.model.sheet import Sheet
from logger.review.learn.sheets import template
from logger.store.folder.datafolder import safe_sheet_name

NO_RECORDER = "no recorder runs for this data folder. Use: bainlog start"
CORRECT_FIRST = "the text is not valid yet. Correct what is listed first."


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """Name and revision of the sheet that is open; no name where it was never saved."""

    name: str = ""
    base: int | None = None


class Saved(NamedTuple):
    """What came of saving: what to tell the person; what is open now and its text, if it was."""

    says: str
    opened: Opened | None = None
    text: str | None = None


def typed(links: Links, text: str, opened: Opened) -> bool:
    """Whether a text holds what nobody saved: it would be lost when another is opened.

    Parameters
    ----------
    links : Links
        The way to the sheets.
    text : str
        The text.
    opened : Opened
        The sheet that is open.
    """
    name = opened.name
    try:
        return text != (links.folder().sheet_text(name) if name else template())
    except BainlogError:
        return True


def save(links: Links, text: str, name: str, opened: Opened) -> Saved:
    """Have the recorder save a sheet.

    Parameters
    ----------
    links : Links
        The way to the recorder.
    text, name : str
        What is saved, and under which name.
    opened : Opened
        The sheet that is open.
    """
    if not name:
        return Saved("Not saved: give it a name first.")
    wanted, name = name, safe_sheet_name(name)
    under = f" It is called “{name}” here: every disk takes that." if name != wanted else ""
    base = opened.base if opened.name == name else None
    if not reads(text):
        return Saved(f"Not saved: {CORRECT_FIRST}")
    try:
        found = links.send("save_sheet", {"name": name, "sheet": text, "base": base}, SheetSaved)
    except GoneError:
        return Saved(f"Not saved: {NO_RECORDER}")
    except RefusedError as cause:
        return Saved(f"Not saved. {cause}")
    now = Opened(name=name, base=found.revision)
    if not found.changed:
        says = f"Nothing to save: it is the same as revision {found.revision}.{under}"
        return Saved(says, now, text)
    kept = f" Revision {base} is kept." if base else ""
    state = links.state()
    runs_on = state is not None and state.phase == "recording"
    under_way = " The batch under way keeps the sheet it started with." if runs_on else ""
    return Saved(f"Saved as revision {found.revision}.{kept}{under}{under_way}", now, found.text)


def reads(text: str) -> bool:
    """Whether a text is a sheet."""
    return _sheet_of(text) is not None


def _sheet_of(text: str) -> Sheet | None:
    try:
        found = sheet_from_text(text[: MOST_TEXT + 1], "this sheet")
    except (BainlogError, ValueError):
        return None
    return found if len(text) <= MOST_TEXT else None


def start_with(links: Links, text: str) -> str:
    """Start a batch with the text of a sheet; return what to tell the person."""
    sheet = _sheet_of(text)
    if sheet is None:
        return f"Not started: {CORRECT_FIRST}"
    try:
        require_stages("this sheet", sheet)
        links.send("start", {"sheet": text}, Committed)
    except GoneError:
        return f"Not started: {NO_RECORDER}"
    except (InputError, RefusedError) as cause:
        return f"Not started. {cause}"
    return "The batch has started. Go to the bench."

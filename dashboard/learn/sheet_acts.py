"""What the page of sheets asks of the recorder: save this text, start a batch with it.

Thin; each returns what to tell the person. Nothing is written here.
"""

from typing import Any

from dashboard.learn.outlook import MOST_TEXT
from dashboard.links import Links
from logger.control.client import GoneError, RefusedError
from logger.model.errors import BainlogError
from logger.model.files import sheet_from_text
from logger.review.learn.sheets import template

NO_RECORDER = "no recorder runs for this data folder. Use: bainlog start"
MEND = "the text does not read yet. Mend first what is listed."
NOT_OPEN: dict[str, Any] = {"name": "", "base": None}
"""Name and revision of the sheet that is open: none yet."""


def typed(links: Links, text: str, opened: dict[str, Any]) -> bool:
    """Whether a text holds what nobody saved: it would be lost when another is opened."""
    name = opened["name"]
    try:
        return text != (links.folder().sheet_text(name) if name else template())
    except BainlogError:
        return True


def save(links: Links, text: str, name: str, opened: Any) -> tuple[str, Any, Any]:
    """Have the recorder save a sheet.

    Returns
    -------
    tuple
        What to tell the person, what is open now, and the text as saved; the latter two are None
        when it was not saved.
    """
    if not name:
        return "Not saved: give it a name first.", None, None
    opened = opened or NOT_OPEN
    base = opened["base"] if opened["name"] == name else None
    if not reads(text):
        return f"Not saved: {MEND}", None, None
    try:
        found = links.send("save_sheet", {"name": name, "sheet": text, "base": base})
    except GoneError:
        return f"Not saved: {NO_RECORDER}", None, None
    except RefusedError as cause:
        return f"Not saved. {cause}", None, None
    now = {"name": name, "base": found["revision"]}
    if not found["changed"]:
        return f"Nothing to save: it stands so already, revision {found['revision']}.", now, text
    kept = f" Revision {base} is kept." if base else ""
    state = links.state()
    runs_on = state is not None and state["phase"] == "recording"
    under_way = " The batch under way keeps the sheet it began with." if runs_on else ""
    return f"Saved as revision {found['revision']}.{kept}{under_way}", now, found["text"]


def reads(text: str) -> bool:
    """Whether a text is a sheet."""
    try:
        sheet_from_text(text[: MOST_TEXT + 1], "this sheet")
    except (BainlogError, ValueError):
        return False
    return len(text) <= MOST_TEXT


def start_with(links: Links, text: str) -> str:
    """Start a batch with the text of a sheet; return what to tell the person."""
    if not reads(text):
        return f"Not started: {MEND}"
    try:
        links.send("start", {"sheet": text})
    except GoneError:
        return f"Not started: {NO_RECORDER}"
    except RefusedError as cause:
        return f"Not started. {cause}"
    return "The batch has begun. Go to the bench."

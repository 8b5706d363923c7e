"""Where the text of a sheet may come from: a saved one, the defaults, one run, all good runs.

Reads sheets and finished runs; the targets of a learned sheet are
``logger.review.learn.learned``'s.
"""

from typing import NamedTuple, TypedDict

from dashboard.learn.portraits import MOST_GOOD, Portraits
from dashboard.links import Links
from dashboard.sheets.acts import Opened
from logger.model.errors import BainlogError, InputError
from logger.model.files import sheet_from_text
from logger.review.learn.learned import learned_sheet
from logger.review.learn.sheet_text import sheet_as_toml
from logger.review.learn.sheets import template
from logger.store.folder import earlier
from logger.store.folder.entries import RunEntry
from logger.words.dates import moment_text

DEFAULTS = "new:"
EMPTY = "empty:"
EMPTY_TEXT = '[sheet]\nname = "New sheet"\n'
MOST_RUNS = 30
"""No more runs than this are offered to make a sheet from."""
SENSOR_CHECK = "sensor check"
"""Product of the short runs of a sensor check, which are no batches."""


class Origin(NamedTuple):
    """A text to begin with."""

    text: str
    name: str
    """Under which it is saved; empty for one that has no name yet."""
    base: int | None
    """Revision that was opened; None where nothing is saved yet, 0 for one that does not read."""
    says: str


class Option(TypedDict):
    """One line of a drop-down list."""

    value: str
    label: str


class Group(TypedDict):
    """Lines of a drop-down list under one head."""

    group: str
    items: list[Option]


def choices(links: Links) -> list[Group]:
    """Return what can be opened, in groups for a drop-down list."""
    saved: list[Option] = [
        {"value": f"sheet:{n}", "label": _sheet_label(links, n)} for n in links.sheets()
    ]
    groups: list[Group] = [{"group": "Saved sheets", "items": saved}] if saved else []
    fresh: list[Option] = [
        {"value": DEFAULTS, "label": "The defaults, with explanations"},
        {"value": EMPTY, "label": "An empty sheet, to paste a list into"},
    ]
    groups.append({"group": "Start a new one from", "items": fresh})
    entries = links.catalog().runs(status="ended")
    runs = [e for e in entries if e.product != SENSOR_CHECK and e.outcome != "rejected"]
    good: dict[str, int] = {}
    for entry in runs:
        if entry.outcome == "accepted":
            good[entry.product] = good.get(entry.product, 0) + 1
    fresh += [
        {"value": f"good:{product}", "label": f"What worked in {count} good batches: {product}"}
        for product, count in good.items()
        if count > 1
    ]
    items: list[Option] = [
        {"value": f"run:{e.run_id}", "label": _run_label(e)} for e in runs[:MOST_RUNS]
    ]
    if items:
        groups.append({"group": "Start a new one from a run", "items": items})
    return groups


def _sheet_label(links: Links, name: str) -> str:
    try:
        revision = revision_of(links.folder().sheet_text(name))
    except BainlogError:
        revision = 0
    return f"{name}, revision {revision}" if revision else f"{name}, can't be read"


def _run_label(entry: RunEntry) -> str:
    day = moment_text(entry.started)
    came = entry.outcome or "not said yet"
    return f"{day}, {entry.sheet}, revision {entry.revision}, {came}"


def opened(links: Links, portraits: Portraits, chosen: str) -> Origin:
    """Return the text of what was chosen.

    Parameters
    ----------
    links : Links
        The way to sheets and runs.
    portraits : Portraits
        Numbers of the finished runs.
    chosen : str
        A value of `choices`.

    Raises
    ------
    BainlogError
        If it is not there, can't be read, or nothing can be learned from it.
    """
    kind, _, what = chosen.partition(":")
    if kind == "sheet":
        text = str(links.folder().sheet_text(what))
        return Origin(text, what, revision_of(text), "")
    if kind == "run":
        return _learned(portraits, [what])
    if kind == "good":
        entries = links.catalog().runs(product=what, outcome="accepted", status="ended")
        return _learned(portraits, [e.run_id for e in entries][:MOST_GOOD])
    return Origin(EMPTY_TEXT if chosen == EMPTY else template(), "", None, "")


def revision_of(text: str) -> int:
    """Return the revision of a sheet's text, 0 for one that does not read."""
    try:
        return sheet_from_text(text, "the saved sheet").sheet.revision
    except BainlogError:
        return 0


def _learned(portraits: Portraits, run_ids: list[str]) -> Origin:
    runs = []
    for run_id in run_ids:
        found = portraits.of(run_id)
        if found is None:
            raise InputError(run_id, "was not ended", "learn from runs that were ended")
        if found.outcome == "rejected":
            raise InputError(run_id, "was rejected", "learn from runs that worked")
        runs.append(found)
    sheet, proposals = learned_sheet(runs)
    count = f"{len(runs)} run{'s' if len(runs) > 1 else ''}"
    told = "; ".join(p.says for p in proposals)
    says = (
        f"Targets from {count}. {told}."
        if told
        else f"{count} used as {'they are' if len(runs) > 1 else 'it is'}: no target to learn."
    )
    return Origin(sheet_as_toml(sheet, head=f"Targets from {', '.join(run_ids)}"), "", None, says)


def kept_text(links: Links, opened: Opened, against: str | None) -> str | None:
    """Return the text of a revision of the open sheet, or None where there is none.

    Parameters
    ----------
    links : Links
        The way to the sheets.
    opened : Opened
        The sheet that is open.
    against : str or None
        ``now``, or the number of a revision.
    """
    name, folder = opened.name, links.folder()
    if not name or not against:
        return None
    try:
        if against == "now":
            return str(folder.sheet_text(name))
        return earlier.text_of(folder, name, int(against))
    except (BainlogError, ValueError):
        return None

"""What the dialogs at the start and at the end of a batch ask, and what they suggest.

Reads the recorder's sheet and the list of runs. The answers of the last run of a sheet are filled
in; nothing must be answered. The fields themselves are made by ``assets/asking.js``.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from dashboard.links import Links
from logger.control.acts import require_stages
from logger.model.errors import BainlogError
from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.model.sheet import Sheet
from logger.model.state import State
from logger.words.counts import count_text
from logger.words.dates import moment_text
from logger.words.values import exact_text, weighed_text

MOST_PIECES = 60
"""Pieces that are asked about one by one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StandIn:
    """What the sheet says may be taken in place of an ingredient, and how much of it."""

    name: str
    amount: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LotField:
    """One ingredient: its amount, its lot as it was last time and as the sheet has it."""

    ingredient: str
    lot: str
    of_sheet: str
    amount: str = ""
    instead: list[StandIn] = field(default_factory=list)
    taken: str = ""
    """The one of `instead` that is chosen already; empty as written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyLine:
    """How one thing is ready: its look, what it says."""

    look: str
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StartForm:
    """What is asked at the start of a batch.

    Attributes
    ----------
    sheet : str
        Name of the sheet; empty where it does not read.
    operator, size : str
        As they were last time.
    lots : list of LotField
        One for each ingredient.
    ready : list of ReadyLine
        How the sensors are.
    says : str
        Where the suggestions come from, or what is wrong.
    """

    sheet: str = ""
    operator: str = ""
    size: str = ""
    lots: list[LotField] = field(default_factory=list)
    ready: list[ReadyLine] = field(default_factory=list)
    says: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultField:
    """A result that the sheet declares, and its unit."""

    name: str
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EndForm:
    """What is asked at the end of a batch: the defects to choose from, of the batch and of each
    piece, and what is measured.

    Scores of tasters are asked on the page of the run. ``run`` is where a photo goes, ``still_in``
    says which pieces nobody has seen leave the bath; empty where none is in. What was said before
    of a batch that goes on is in ``came``, ``wrong`` and ``note``.
    """

    run: str = ""
    still_in: str = ""
    came: str = ""
    wrong: list[str] = field(default_factory=list)
    note: str = ""
    defects: list[str] = field(default_factory=list)
    pieces: list[int] = field(default_factory=list)
    results: list[ResultField] = field(default_factory=list)


def start_form(links: Links, sheet_name: str) -> StartForm:
    """Return what is asked when a sheet is chosen.

    Parameters
    ----------
    links : Links
        The way to sheets and runs.
    sheet_name : str
        Of the data folder; empty for the sheet that the recorder was started with.
    """
    try:
        sheet = chosen_sheet(links, sheet_name)
        if sheet is None:
            return StartForm(says="Choose a sheet.")
        require_stages("this sheet", sheet)
    except BainlogError as cause:
        return StartForm(says=str(cause))
    return _with_the_last(links, sheet, {} if sheet_name else links.instead)


def chosen_sheet(links: Links, sheet_name: str) -> Sheet | None:
    """Return the sheet that is chosen; None where none is.

    Parameters
    ----------
    links : Links
        The way to sheets.
    sheet_name : str
        Of the data folder; empty for the sheet that the recorder was started with.

    Raises
    ------
    InputError
        If it has no such name, or is wrong.
    """
    text = links.folder().sheet_text(sheet_name) if sheet_name else links.own_sheet()
    return None if text is None else sheet_from_text(text, sheet_name or "the sheet")


def _with_the_last(links: Links, sheet: Sheet, instead: Mapping[str, str]) -> StartForm:
    """Return the form of a sheet, filled in from its last run."""
    name, before, operator, size, says = sheet.sheet.name, dict[str, str](), "", "", ""
    try:
        last = next(iter(links.catalog().runs(sheet=name)), None)
        if last is not None:
            with links.open_run(last.run_id, tolerant=True) as view:
                before = {i.name: i.lot for i in view.sheet().ingredient if i.lot}
            operator, size = last.operator, last.size
            says = f"Filled in from the batch of {moment_text(last.started)}."
    except BainlogError:
        says = "The last batch of this sheet can't be read; nothing is filled in."
    lots = [
        LotField(
            ingredient=i.name,
            lot=before.get(i.name, i.lot),
            of_sheet=i.lot,
            amount=exact_text(i.mass_g, "g"),
            instead=[
                StandIn(name=o.name, amount=weighed_text(i.mass_g * o.ratio_percent / 100.0))
                for o in i.alternative
            ],
            taken=next((o.name for o in i.alternative if o.name == instead.get(i.name)), ""),
        )
        for i in sheet.ingredient
    ]
    ready = _ready(links.state())
    return StartForm(sheet=name, operator=operator, size=size, lots=lots, ready=ready, says=says)


def _ready(state: State | None) -> list[ReadyLine]:
    """Return how many sensors are live, and whose check is due or was never made."""
    if state is None or not state.channels:
        return []
    live = sum(1 for c in state.channels if c.status == "live")
    count = len(state.channels)
    said = count_text(count, "sensor")
    lines = [
        ReadyLine(
            look="good" if live == count else "warn",
            says=f"{said} live" if live == count else f"{live} of {said} live",
        )
    ]
    for check, word in (("overdue", "Check overdue"), ("never", "Never checked")):
        names = [c.label or c.id for c in state.channels if c.check == check]
        if names:
            lines.append(ReadyLine(look="warn", says=f"{word}: {', '.join(names)}"))
    return lines


def end_form(links: Links) -> EndForm:
    """Return what is asked when the run under way is ended."""
    state = links.state()
    if state is None or state.run.id is None:
        return EndForm()
    try:
        with links.open_run(state.run.id, tolerant=True) as view:
            sheet, events, said = view.sheet(), view.events(), view.outcome()
    except BainlogError:
        return EndForm()
    return EndForm(
        run=state.run.id,
        came=said.outcome or "",
        wrong=list(said.defects),
        note=said.note,
        still_in=still_in_bath(state),
        defects=list(dict.fromkeys([*sheet.sheet.defects, *said.defects])),
        pieces=_pieces(events, state),
        results=[ResultField(name=r.name, unit=r.unit) for r in sheet.result if not r.by_taster],
    )


def still_in_bath(state: State) -> str:
    """Return what to say of pieces in the bath, empty where none is in."""
    rows = [row for row in state.view.board if row.inside]
    if not rows:
        return ""
    named = [str(r.piece) for r in rows if r.piece is not None]
    which = f": {', '.join(named)}" if len(named) == len(rows) else ""
    return f"{count_text(len(rows), 'piece')} still in the bath{which}."


def _pieces(events: Iterable[Event], state: State) -> list[int]:
    """Return the numbers of the pieces that were seen, weighed or named by a person."""
    named = [event.data.get("piece") for event in events]
    there = [row.piece for row in state.view.board]
    most = max((n for n in (*named, *there) if isinstance(n, int)), default=0)
    return list(range(1, min(most, MOST_PIECES) + 1))

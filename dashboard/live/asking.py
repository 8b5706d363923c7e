"""What the dialogs at the start and at the end of a batch ask, and what they suggest.

Reads the recorder's sheet and the list of runs. The answers of the last run of a sheet are filled
in; nothing must be answered. The fields themselves are made by ``assets/asking.js``.
"""

from dataclasses import dataclass, field

from dashboard.links import Links
from logger.model.errors import BainlogError
from logger.model.files import sheet_from_text
from logger.model.sheet import Sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class LotField:
    """The lot of one ingredient: as it was last time, and as the sheet has it."""

    ingredient: str
    lot: str
    of_sheet: str


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
    says : str
        Where the suggestions come from, or what is wrong.
    """

    sheet: str = ""
    operator: str = ""
    size: str = ""
    lots: list[LotField] = field(default_factory=list)
    says: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultField:
    """A result that the sheet declares, and its unit."""

    name: str
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EndForm:
    """What is asked at the end of a batch: the defects to choose from, and what is measured.

    Scores of tasters are asked on the page of the run.
    """

    defects: list[str] = field(default_factory=list)
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
        text = links.folder().sheet_text(sheet_name) if sheet_name else links.own_sheet()
        if text is None:
            return StartForm(says="The recorder was started without a sheet: choose one.")
        sheet = sheet_from_text(text, sheet_name or "the sheet")
    except BainlogError as cause:
        return StartForm(says=str(cause))
    return _with_the_last(links, sheet)


def _with_the_last(links: Links, sheet: Sheet) -> StartForm:
    """Return the form of a sheet, filled in from its last run."""
    name, before, operator, size, says = sheet.sheet.name, dict[str, str](), "", "", ""
    try:
        last = next(iter(links.catalog().runs(sheet=name)), None)
        if last is not None:
            with links.open_run(last.run_id, tolerant=True) as view:
                before = {i.name: i.lot for i in view.sheet().ingredient if i.lot}
            operator, size = last.operator, last.size
            says = f"Filled in from the batch of {last.started[:16].replace('T', ', ')}."
    except BainlogError:
        says = "The last batch of this sheet can't be read; nothing is filled in."
    lots = [
        LotField(ingredient=i.name, lot=before.get(i.name, i.lot), of_sheet=i.lot)
        for i in sheet.ingredient
    ]
    return StartForm(sheet=name, operator=operator, size=size, lots=lots, says=says)


def end_form(links: Links) -> EndForm:
    """Return what is asked when the run under way is ended."""
    state = links.state()
    if state is None or state.run.id is None:
        return EndForm()
    try:
        with links.open_run(state.run.id, tolerant=True) as view:
            sheet = view.sheet()
    except BainlogError:
        return EndForm()
    return EndForm(
        defects=list(sheet.sheet.defects),
        results=[ResultField(name=r.name, unit=r.unit) for r in sheet.result if not r.by_taster],
    )

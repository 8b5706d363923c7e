"""The form of a sheet: the grid of ingredients, the cards of stages, and what is typed there.

The browser sends what was done, one request after the other; ``logger.batch.form`` makes it in the
text, which stays the one truth. Nothing is saved here.
"""

import datetime
from dataclasses import dataclass
from typing import Any

import dash_ag_grid as dag
import dash_mantine_components as dmc
from dash import ClientsideFunction, Dash, Input, Output, State, ctx, html, no_update

from dashboard.learn.portraits import Portraits
from dashboard.sheets.outlook import MOST_TEXT, NAME, draw_plan, draw_wrongs, look_at
from dashboard.sheets.shown import shown
from dashboard.stores import Choices, decode, encode
from logger.batch.form.changes import Change, changed
from logger.batch.form.fields import PHASES
from logger.batch.form.pasted import pasted_changes
from logger.model.errors import InputError

MOST_CHANGES = 200
"""Most changes of one request."""
_THEME = (
    "themeQuartz.withParams({backgroundColor: 'var(--plate)', foregroundColor: 'var(--ink)',"
    " headerBackgroundColor: 'var(--ground)', headerTextColor: 'var(--soft)',"
    " borderColor: 'var(--thin)', accentColor: 'var(--accent)', chromeBackgroundColor:"
    " 'var(--ground)', fontFamily: 'inherit', fontSize: 15, cellHorizontalPadding: 10,"
    " rowHoverColor: 'var(--sunk)', inputFocusBorder: '2px solid var(--accent)',"
    " textColor: 'var(--ink)', subtleTextColor: 'var(--soft)', wrapperBorderRadius: 10,"
    " menuBackgroundColor: 'var(--plate)', selectCellBackgroundColor: 'var(--sunk)'})"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pasted:
    """Cells that were pasted, and the cell that had the focus.

    Attributes
    ----------
    text : str
        As the clipboard gave it.
    row : int
        Place of the row, counted from zero; -1 for none: the list is added.
    column : str
        Key of the column.
    """

    text: str
    row: int = -1
    column: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What was done in the form since the last answer.

    Attributes
    ----------
    number : int
        Counts the requests.
    """

    number: int = 0
    changes: tuple[Change, ...] = ()
    pasted: Pasted | None = None


def made(text: str, asked: Asked) -> tuple[str, str]:
    """Return a text with what was asked for done in it, and what could not be done.

    Parameters
    ----------
    text : str
        Text of the sheet.
    asked : Asked
        By the browser.
    """
    if len(asked.changes) > MOST_CHANGES or len(text) > MOST_TEXT:
        return text, "Too much at once. Nothing was changed."
    refused = list[str]()
    changes = asked.changes
    if asked.pasted is not None:
        try:
            pasted = asked.pasted
            changes = (*changes, *pasted_changes(text, pasted.text, pasted.row, pasted.column))
        except InputError as cause:
            refused.append(f"Not pasted. {cause}")
    for change in changes:
        try:
            text = changed(text, NAME, [change])
        except InputError as cause:
            refused.append(f"Not changed. {cause}")
    return text, " ".join(dict.fromkeys(refused))


def draw_form() -> html.Div:
    """Draw the form without a sheet."""
    return html.Div(
        id="sheet-form",
        className="sheet-form",
        children=[
            html.P(id="sheet-broken", className="sheet-wrong", hidden=True),
            html.Section(
                [
                    html.Div(
                        [html.H2("Ingredients"), html.P(id="sheet-sum", className="soft")],
                        className="form-head",
                    ),
                    html.Div(id="sheet-grid-place"),
                    html.P(id="sheet-row-says", className="hint", role="status"),
                    _row_acts(),
                    html.Div(id="sheet-entry"),
                    _paste_list(),
                ],
                **{"aria-label": "Ingredients"},
            ),
            html.Section(
                [
                    html.Div([html.H2("Stages")], className="form-head"),
                    html.Div(id="sheet-cards"),
                ],
                **{"aria-label": "Stages"},
            ),
            html.Section(
                [
                    html.Div([html.H2("Sub-recipes, vessels, results")], className="form-head"),
                    html.Div(id="sheet-others"),
                    html.P(id="sheet-elsewhere", className="hint"),
                ],
                **{"aria-label": "Sub-recipes, vessels, results"},
            ),
            html.P(id="sheet-refused", className="sheet-wrong", role="status"),
        ],
    )


def load_grid_late() -> None:
    """Keep the grid's script out of every page: the page of sheets asks for it itself.

    It is a megabyte, and a page costs a tenth more where it is read for nothing.
    """
    for script in dag._js_dist:
        if "async" not in script:
            script["dynamic"] = True


def draw_grid() -> dag.AgGrid:
    """Draw the grid without rows; the browser fills it."""

    def column(field: str, head: str, width: int, **more: Any) -> Any:
        like = {"editable": True, "cellRenderer": "SheetCell", "minWidth": width, "flex": width}
        return {"field": field, "headerName": head, **like, **more}

    right = {"type": "rightAligned"}
    told = {"editable": False, **right}
    # What is wrong changes where the value does not: these are drawn anew with each answer.
    anew = {"equals": {"function": "false"}}
    says = {"wrapText": True, "autoHeight": True, **anew}
    choice = {
        **anew,
        "cellEditor": "agSelectCellEditor",
        "cellEditorParams": {"values": list(PHASES)},
    }
    return dag.AgGrid(
        id="sheet-grid",
        className="sheet-grid",
        rowData=[],
        getRowId="params.data.id",
        columnDefs=[
            column("name", "Ingredient", 110, flex=200, **says),
            column("phase", "Phase", 70, **choice),
            column("amount", "Amount, g", 90, **right, **anew),
            column("of_phase", "% of phase", 66, **told),
            column("of_batch", "% of what is eaten", 66, **told),
            column("tolerance", "Tolerance, %", 100, **right),
            column("price", "Price per kg", 118),
            column("lot", "Lot", 84),
        ],
        defaultColDef={"sortable": False, "resizable": False, "suppressMovable": True,
                       "wrapHeaderText": True, "autoHeaderHeight": True},
        dashGridOptions={
            "theme": {"function": _THEME},
            "domLayout": "autoHeight",
            "rowHeight": 44,
            "singleClickEdit": False,
            "stopEditingWhenCellsLoseFocus": True,
            "enterNavigatesVerticallyAfterEdit": True,
            "suppressRowHoverHighlight": True,
            "suppressMultiSort": True,
            "animateRows": False,
            "suppressColumnMoveAnimation": True,
            "localeText": {
                "noRowsToShow": "No ingredients yet. Open a sheet, or add one below.",
                "ariaPageSizeSelectorLabel": "Page size",
                "firstPage": "First page",
                "previousPage": "Previous page",
                "nextPage": "Next page",
                "lastPage": "Last page",
            },
        },
        style={"height": None},
    )  # fmt: skip


def _row_acts() -> html.Div:
    acts = {
        "add": "Add below",
        "up": "Move up",
        "down": "Move down",
        "remove": "Remove",
    }
    return html.Div(
        [
            html.Button(title, type="button", className="key small", **{"data-row-act": act})
            for act, title in acts.items()
        ],
        className="answers wrap row-acts",
        role="group",
        **{"aria-label": "Selected ingredient"},
    )


def _paste_list() -> html.Details:
    return html.Details(
        [
            html.Summary("Paste a list"),
            dmc.Textarea(
                id="sheet-list",
                label="One ingredient a line, or cells from a spreadsheet",
                description="A line such as “Fat:” names the phase of the lines below it.",
                autosize=True,
                minRows=4,
                maxRows=12,
                size="md",
            ),
            html.Button(
                "Add to the ingredients", type="button", className="key small", id="sheet-list-add"
            ),
        ],
        className="paste-list",
    )


def register(app: Dash, portraits: Portraits) -> None:
    """Attach the callbacks of the form to an app."""

    @app.callback(
        Output("sheet-shown", "data"),
        Output("sheet-wrongs", "children"),
        Output("sheet-plan", "children"),
        Input("sheet-typed", "data"),
        Input("sheet-keyed", "data"),
        Input("choices", "data"),
    )
    def _check(text: Any, keyed: Any, choices: Any) -> Any:
        if text is None:  # nothing has come from the browser yet
            return (no_update,) * 3
        text, typing = str(text), ctx.triggered_id == "sheet-keyed"
        asked = decode(Asked, keyed) if typing else None
        tried = made(text, asked)[0] if asked else text
        today = datetime.datetime.now().astimezone().date()
        look = look_at(tried, portraits.fats(), portraits.slabs(), today)
        measures = Choices.of(choices).measures
        found = shown(text, look, measures, typing=typing)
        return encode(found), draw_wrongs(look), draw_plan(look, measures)

    @app.callback(
        Output("sheet-grid-place", "children"),
        Input("sheet-grid-script", "data"),
        prevent_initial_call=True,
    )
    def _grid(_loaded: Any) -> Any:
        return draw_grid()

    @app.callback(
        Output("sheet-text", "value", allow_duplicate=True),
        Output("sheet-refused", "children"),
        Output("sheet-done", "data"),
        Input("sheet-asked", "data"),
        State("sheet-text", "value"),
        prevent_initial_call=True,
    )
    def _make(asked: Any, text: Any) -> Any:
        found = decode(Asked, asked)
        if found is None:
            return (no_update,) * 3
        after, refused = made(str(text or ""), found)
        return after if after != text else no_update, refused, found.number

    for function, output, inputs in (
        ("draw", Output("sheet-sum", "children"), Input("sheet-shown", "data")),
        ("done", Output("sheet-done", "modified_timestamp"), Input("sheet-done", "data")),
        ("view", Output("sheet-written", "hidden"), Input("sheet-view", "value")),
        ("cells", Output("sheet-grid", "className"), Input("sheet-grid", "cellValueChanged")),
        ("load", Output("sheet-row-says", "className"), Input("sheet-grid-place", "id")),
        ("fill", Output("sheet-grid-place", "className"), Input("sheet-grid-place", "children")),
    ):
        app.clientside_callback(ClientsideFunction("sheetform", function), output, inputs)

"""The page of batch sheets: the list, the text with its units checked while typing, the plan.

Checking is the reader's of ``logger.model.files``, predicting ``logger.review.plan``'s. The page
writes no file: a text is started as a batch as it stands, or downloaded.
"""

from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html, no_update

from dashboard.learn.portraits import Portraits
from dashboard.links import Links
from dashboard.live.sentence import symbol
from dashboard.measures import Measures
from logger.control.client import GoneError, RefusedError
from logger.model.errors import BainlogError
from logger.model.files import sheet_from_text
from logger.review.plan import plan
from logger.review.sheets import differences, template

WEIGHTS = {"will not work": "stop", "mind": "warn", "note": "ask"}
MOST_TEXT = 200_000


def layout() -> html.Div:
    """Return the page without data."""
    return html.Div(
        className="plain-page wide",
        children=[
            html.H1("Sheets"),
            dmc.Select(id="sheet-name", label="Sheet", data=[], size="md", searchable=True,
                       placeholder="a new one", className="filter wide-filter"),
            html.Div(
                className="sheet-both",
                children=[
                    html.Section(
                        [
                            dmc.Textarea(
                                id="sheet-text", label="Text of the sheet", value=template(),
                                autosize=True, minRows=20, maxRows=36, size="md", debounce=400,
                                className="sheet-text", spellCheck=False,
                            ),
                            html.Div(
                                [
                                    html.Button("Start a batch with this", id="sheet-start",
                                                type="button", className="key main"),
                                    html.Button("Download", id="sheet-get", type="button",
                                                className="key"),
                                ],
                                className="answers",
                            ),
                            html.P(id="sheet-said", role="status", className="said"),
                            dcc.Download(id="sheet-file"),
                        ]
                    ),
                    html.Section(id="sheet-plan", className="plate", **{"aria-live": "polite"}),
                ],
            ),
        ],
    )  # fmt: skip


def register(app: Dash, links: Links) -> None:
    """Attach the page's callbacks to an app."""
    portraits = Portraits(links)

    @app.callback(Output("sheet-name", "data"), Input("where", "pathname"))
    def _names(_path: Any) -> Any:
        return links.sheets()

    @app.callback(Output("sheet-text", "value"), Input("sheet-name", "value"),
                  prevent_initial_call=True)  # fmt: skip
    def _open(name: Any) -> Any:
        try:
            return links.folder().sheet_text(str(name)) if name else template()
        except BainlogError:
            return no_update

    @app.callback(
        Output("sheet-plan", "children"),
        Input("sheet-text", "value"),
        Input("choices", "data"),
        State("sheet-name", "value"),
    )
    def _check(text: Any, choices: Any, name: Any) -> Any:
        saved = links.folder().sheet_text(str(name)) if name in links.sheets() else None
        return draw_plan(str(text or ""), saved, portraits.fats(), Measures.of(choices))

    @app.callback(
        Output("sheet-said", "children"),
        Input("sheet-start", "n_clicks"),
        State("sheet-text", "value"),
        prevent_initial_call=True,
    )
    def _start(_clicks: Any, text: Any) -> Any:
        return start_with(links, str(text or ""))

    @app.callback(
        Output("sheet-file", "data"),
        Input("sheet-get", "n_clicks"),
        State("sheet-text", "value"),
        State("sheet-name", "value"),
        prevent_initial_call=True,
    )
    def _get(_clicks: Any, text: Any, name: Any) -> Any:
        return {"content": str(text or ""), "filename": f"{name or 'new'}.sheet.toml"}


def start_with(links: Links, text: str) -> str:
    """Start a batch with the text of a sheet; return what to tell the person."""
    try:
        sheet_from_text(text[:MOST_TEXT], "this sheet")
        links.send("start", {"sheet": text})
    except (BainlogError, ValueError) as cause:
        if isinstance(cause, GoneError):
            return "Not started: no recorder runs for this data folder. Use: bainlog start"
        return f"Not started. {cause}" if not isinstance(cause, RefusedError) else str(cause)
    return "The batch has begun. Go to the bench."


def draw_plan(text: str, saved: str | None, fats: Any, measures: Measures) -> list[Any]:
    """Draw what is wrong with a text, or what its sheet will lead to."""
    if len(text) > MOST_TEXT:
        return [html.H2("Too long"), html.P("A sheet has at most 200 000 characters.")]
    try:
        sheet = sheet_from_text(text, "this sheet")
        found = plan(sheet, None, fats)
    except (BainlogError, ValueError) as cause:
        return [
            html.H2([symbol("stop"), " This does not read yet"]),
            html.P(str(cause), className="sheet-wrong"),
        ]
    return [
        html.H2([symbol("good"), f" {found.sheet}, revision {found.revision}"]),
        html.Ul([_trouble(t) for t in found.troubles], className="evidence"),
        _predictions(found.predictions, measures),
        _list("Can't be told", found.untold),
        _list("Caution", found.cautions),
        _changes(saved, sheet),
    ]


def _trouble(trouble: Any) -> html.Li:
    where = f" [{trouble.stage}]" if trouble.stage else ""
    return html.Li(
        [
            symbol(WEIGHTS[trouble.weight]),
            html.Span([html.B(f"{trouble.weight}{where}: "), f"{trouble.says}. ",
                       f"{trouble.do[:1].upper()}{trouble.do[1:]}."]),
        ]
    )  # fmt: skip


def _predictions(predictions: Any, measures: Measures) -> Any:
    rows = [
        html.Tr(
            [
                html.Th(p.label, scope="row"),
                html.Td(_amount(p, measures), className="amount"),
                html.Td([p.says, " ", html.Small(p.source, className="soft")]),
            ]
        )
        for p in predictions
    ]
    if not rows:
        return None
    heads = [html.Th(t, scope="col") for t in ("What to expect", "Likely", "Why")]
    return html.Table(
        [html.Caption("What this sheet will lead to", className="unseen"),
         html.Thead(html.Tr(heads)), html.Tbody(rows)],
        className="plain-table",
    )  # fmt: skip


def _amount(found: Any, measures: Measures) -> str:
    unit = "" if found.unit == "s" else f" {measures.unit(found.unit)}"
    if found.value is not None:
        return f"{measures.text(found.value, found.unit)}{unit}"
    return measures.band(found.low, found.high, found.unit) or "–"


def _list(title: str, texts: Any) -> Any:
    if not texts:
        return None
    return html.Div([html.H2(title), html.Ul([html.Li(text) for text in texts])])


def _changes(saved: str | None, sheet: Any) -> Any:
    if saved is None:
        return None
    try:
        before = sheet_from_text(saved, "the saved sheet")
    except (BainlogError, ValueError):
        return None
    return _list(
        "Changed since it was saved",
        [f"{c.where}: {c.before or 'nothing'} → {c.after or 'nothing'}"
         for c in differences(before, sheet)],
    )  # fmt: skip

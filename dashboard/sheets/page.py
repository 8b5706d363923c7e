"""The page of batch sheets: form and text, checked while typing, the plan, revisions.

Draws and sends commands: a sheet is saved by the recorder, which counts its revision up and keeps
the earlier one. A batch under way keeps the sheet it began with.
"""

from dataclasses import dataclass
from typing import Any
from urllib.parse import parse_qs

import dash_mantine_components as dmc
from dash import ClientsideFunction, Dash, Input, Output, State, dcc, html, no_update

from dashboard.learn.portraits import Portraits
from dashboard.links import Links
from dashboard.sheets import form, origins, papers
from dashboard.sheets.acts import Opened, save, start_with, typed
from dashboard.sheets.origins import kept_text
from dashboard.sheets.outlook import draw_changes
from dashboard.stores import decode, encode
from logger.model.errors import BainlogError
from logger.review.learn.sheets import template
from logger.store.folder import earlier
from logger.store.folder.datafolder import safe_sheet_name

SAVED = "as it was saved"


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """What a person had typed before another text was opened."""

    text: str
    name: str
    open: Opened


def layout() -> html.Div:
    """Return the page without data."""
    return html.Div(
        className="plain-page wide",
        children=[
            dcc.Store(id="sheet-open", data=encode(Opened())),
            dcc.Store(id="sheet-before"),
            dcc.Store(id="sheet-typed"),
            dcc.Store(id="sheet-keyed"),
            dcc.Store(id="sheet-asked"),
            dcc.Store(id="sheet-done"),
            dcc.Store(id="sheet-shown"),
            dcc.Store(id="sheet-grid-script"),
            html.H1("Sheets"),
            _bar(),
            html.P(id="sheet-said", role="status", className="said"),
            html.Div(
                [
                    html.P(id="sheet-from", className="soft", role="status"),
                    html.Button(
                        "Restore what I had typed",
                        id="sheet-back",
                        type="button",
                        className="key small",
                        hidden=True,
                    ),
                ],
                className="sheet-opened",
            ),
            html.Div([_editor(), _beside()], className="sheet-both"),
        ],
    )


def _bar() -> html.Div:
    return html.Div(
        className="sheet-bar",
        children=[
            dmc.Select(
                id="sheet-pick",
                label="Open",
                data=[],
                size="lg",
                searchable=True,
                placeholder="a sheet, the defaults, a run",
                className="sheet-pick",
            ),
            dmc.TextInput(
                id="sheet-name",
                label="Save as",
                size="lg",
                value="",
                placeholder="letters and digits",
                className="sheet-name",
            ),
            html.Button("Save", id="sheet-save", type="button", className="key main"),
            html.Button("Start a batch", id="sheet-start", type="button", className="key"),
            html.Button("Download", id="sheet-get", type="button", className="key"),
            dcc.Download(id="sheet-file"),
        ],
    )


def _editor() -> html.Div:
    # One that hands back no value it was given: an echo, late, would undo what came after it.
    text = dcc.Textarea(
        id="sheet-text",
        value=template(),
        rows=24,
        className="sheet-text",
        spellCheck=False,
    )
    on_paper = html.Section(papers.draw_papers(""), id="sheet-papers", className="plate")
    view = dmc.SegmentedControl(
        id="sheet-view",
        value="form",
        data=[{"value": "form", "label": "Form"}, {"value": "text", "label": "Text"}],
        size="md",
        className="sheet-view",
        **{"aria-label": "Form or text of the sheet"},
    )
    label = html.Label("Text of the sheet", htmlFor="sheet-text", className="sheet-text-label")
    written = html.Section([label, text], id="sheet-written", hidden=True)
    steps = [
        html.Button(title, id=f"sheet-{act}", type="button", className="key small", disabled=True)
        for act, title in (("undo", "Undo"), ("redo", "Redo"))
    ]
    bar = html.Div([view, *steps], className="sheet-view-bar")
    return html.Div([bar, form.draw_form(), written, on_paper], className="beside")


def _beside() -> html.Div:
    return html.Div(
        className="beside",
        children=[
            html.Section(
                id="sheet-wrongs", className="plate wrongs-plate", **{"aria-live": "polite"}
            ),
            html.Section(id="sheet-plan", className="plate", **{"aria-label": "What to expect"}),
            html.Section(
                className="plate",
                children=[
                    html.H2("Revisions"),
                    dmc.Select(
                        id="sheet-against",
                        label="Compare the text with",
                        data=[],
                        size="lg",
                        className="wide-filter",
                        placeholder="open a saved sheet first",
                    ),
                    html.Div(id="sheet-changes"),
                    html.Button(
                        "Restore this revision",
                        id="sheet-take",
                        type="button",
                        className="key small",
                        hidden=True,
                    ),
                ],
            ),
        ],
    )


def register(app: Dash, links: Links) -> None:
    """Attach the page's callbacks to an app."""
    portraits = Portraits(links)

    @app.callback(
        Output("sheet-pick", "data"),
        Output("sheet-pick", "value"),
        Input("where", "pathname"),
        State("where", "search"),
    )
    def _offer(_path: Any, search: Any) -> Any:
        asked = parse_qs(str(search or "").lstrip("?"))
        for kind in ("run", "sheet"):
            if kind in asked:
                return origins.choices(links), f"{kind}:{asked[kind][0]}"
        return origins.choices(links), no_update

    @app.callback(
        Output("sheet-text", "value"),
        Output("sheet-name", "value"),
        Output("sheet-open", "data"),
        Output("sheet-from", "children"),
        Output("sheet-before", "data"),
        Input("sheet-pick", "value"),
        State("sheet-text", "value"),
        State("sheet-name", "value"),
        State("sheet-open", "data"),
        prevent_initial_call=True,
    )
    def _open(chosen: Any, text: Any, name: Any, was: Any) -> Any:
        found, why_not = open_chosen(links, portraits, str(chosen or ""))
        if found is None:
            return no_update, no_update, no_update, why_not or no_update, None
        before = Typed(text=str(text or ""), name=str(name or ""), open=_opened(was))
        unsaved = typed(links, before.text, before.open)
        now = encode(Opened(name=found.name, base=found.base))
        return found.text, found.name, now, found.says, encode(before) if unsaved else None

    app.clientside_callback(
        ClientsideFunction("pages", "paused"),
        Output("sheet-typed", "data"),
        Input("sheet-text", "value"),
    )

    app.clientside_callback(
        ClientsideFunction("sheetkeep", "opened"),
        Output("sheet-undo", "className"),
        Input("sheet-open", "data"),
        State("sheet-text", "value"),
    )
    app.clientside_callback(
        ClientsideFunction("sheetkeep", "seen"),
        Output("sheet-redo", "className"),
        Input("sheet-text", "value"),
    )

    @app.callback(Output("sheet-back", "hidden"), Input("sheet-before", "data"))
    def _offer_back(before: Any) -> bool:
        return not before

    @app.callback(
        Output("sheet-text", "value", allow_duplicate=True),
        Output("sheet-name", "value", allow_duplicate=True),
        Output("sheet-open", "data", allow_duplicate=True),
        Output("sheet-before", "data", allow_duplicate=True),
        Output("sheet-from", "children", allow_duplicate=True),
        Input("sheet-back", "n_clicks"),
        State("sheet-before", "data"),
        prevent_initial_call=True,
    )
    def _back(_clicks: Any, before: Any) -> Any:
        was = decode(Typed, before)
        if was is None:
            return (no_update,) * 5
        return was.text, was.name, encode(was.open), None, "What you had typed is restored."

    @app.callback(
        Output("sheet-against", "data"),
        Output("sheet-against", "value"),
        Input("sheet-open", "data"),
    )
    def _revisions(opened: Any) -> Any:
        return revisions(links, _opened(opened))

    @app.callback(Output("sheet-papers", "children"), Input("sheet-open", "data"))
    def _papers(opened: Any) -> Any:
        return papers.draw_papers(_opened(opened).name)

    @app.callback(
        Output("sheet-changes", "children"),
        Output("sheet-take", "hidden"),
        Input("sheet-against", "value"),
        Input("sheet-typed", "data"),
        State("sheet-open", "data"),
    )
    def _changes(against: Any, text: Any, opened: Any) -> Any:
        drawn = changes(links, _opened(opened), against, str(text or ""))
        return drawn, kept_text(links, _opened(opened), against) in (None, text)

    @app.callback(
        Output("sheet-text", "value", allow_duplicate=True),
        Output("sheet-before", "data", allow_duplicate=True),
        Output("sheet-from", "children", allow_duplicate=True),
        Input("sheet-take", "n_clicks"),
        State("sheet-against", "value"),
        State("sheet-text", "value"),
        State("sheet-name", "value"),
        State("sheet-open", "data"),
        prevent_initial_call=True,
    )
    def _take(_clicks: Any, against: Any, text: Any, name: Any, opened: Any) -> Any:
        before = Typed(text=str(text or ""), name=str(name or ""), open=_opened(opened))
        found = kept_text(links, before.open, against)
        if found is None:
            return no_update, no_update, no_update
        unsaved = typed(links, before.text, before.open)
        return found, encode(before) if unsaved else None, "Save it to make it the next revision."

    form.register(app, portraits)
    _register_acts(app, links)


def _register_acts(app: Dash, links: Links) -> None:
    @app.callback(
        Output("sheet-said", "children"),
        Output("sheet-open", "data", allow_duplicate=True),
        Output("sheet-text", "value", allow_duplicate=True),
        Output("sheet-pick", "data", allow_duplicate=True),
        Output("sheet-name", "value", allow_duplicate=True),
        Input("sheet-save", "n_clicks"),
        State("sheet-text", "value"),
        State("sheet-name", "value"),
        State("sheet-open", "data"),
        prevent_initial_call=True,
    )
    def _save(_clicks: Any, text: Any, name: Any, opened: Any) -> Any:
        saved = save(links, str(text or ""), str(name or "").strip(), _opened(opened))
        if saved.opened is None:
            return (saved.says, *(no_update,) * 4)
        now = saved.opened
        return saved.says, encode(now), saved.text, origins.choices(links), now.name

    @app.callback(
        Output("sheet-said", "children", allow_duplicate=True),
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
        return {
            "content": str(text or ""),
            "filename": f"{safe_sheet_name(str(name or 'new'))}.sheet.toml",
        }


def _opened(data: object) -> Opened:
    return decode(Opened, data) or Opened()


def open_chosen(
    links: Links, portraits: Portraits, chosen: str
) -> tuple[origins.Origin | None, str]:
    """Return the text of what was chosen; None where it can't be opened, and why not.

    Parameters
    ----------
    links : Links
        The way to sheets and runs.
    portraits : Portraits
        Numbers of the finished runs.
    chosen : str
        A value of ``origins.choices``; empty for none.
    """
    if not chosen:
        return None, ""
    try:
        return origins.opened(links, portraits, chosen), ""
    except (BainlogError, ValueError) as cause:
        return None, f"Not opened. {cause}"


def revisions(links: Links, opened: Opened) -> tuple[list[origins.Option], str | None]:
    """Return the revisions that the open sheet can be compared with, and the first choice."""
    if not opened.name:
        return [], None
    kept = earlier.revisions(links.folder(), opened.name)
    base = opened.base
    rows: list[origins.Option] = [
        {"value": "now", "label": f"Revision {base}, {SAVED}" if base else SAVED.capitalize()}
    ]
    rows += [{"value": str(r), "label": f"Revision {r}"} for r in reversed(kept) if r != base]
    return rows, "now"


def changes(links: Links, opened: Opened, against: str | None, text: str) -> Any:
    """Draw in what the text differs from a revision of the open sheet.

    Parameters
    ----------
    links : Links
        The way to the sheets.
    opened : Opened
        The sheet that is open.
    against : str or None
        ``now``, or the number of a revision.
    text : str
        The text now.
    """
    if not opened.name or not against:
        return html.P("A saved sheet keeps its earlier revisions; compare them here.")
    before = kept_text(links, opened, against)
    if before is None:
        return html.P("That revision is no longer there.")
    named = f"the sheet {SAVED}" if against == "now" else f"revision {against}"
    return draw_changes(before, text, named)

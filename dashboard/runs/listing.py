"""The list of runs: search, filters, small pictures.

Reads the catalog at each question; the catalog works out again only what changed.
"""

import datetime
from collections.abc import Mapping
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, dcc, html

from dashboard.learn import overlay
from dashboard.learn.together import address
from dashboard.links import Links
from dashboard.palette import Theme
from dashboard.runs.card import draw_card
from dashboard.stores import Choices
from logger.store.folder.entries import RunEntry

MOST = 100
"""No more lines than this on the page; the search narrows them."""
FILTERS = ("sheet", "revision", "fat", "lot", "outcome", "defect", "status")


def layout() -> html.Div:
    """Return the page without data."""
    chosen = [
        dmc.Select(
            id=f"runs-{name}",
            label=name.capitalize(),
            data=[],
            clearable=True,
            searchable=True,
            size="md",
            className="filter",
        )
        for name in FILTERS
    ]
    return html.Div(
        className="plain-page wide",
        children=[
            html.H1("Runs"),
            dmc.TextInput(
                id="runs-text",
                label="Search",
                size="md",
                className="wide-filter",
                placeholder="sheet, ingredient, lot, defect, note…",
            ),
            html.Div(
                className="filters in-a-row slides",
                role="group",
                **{"aria-label": "Filters"},
                children=[
                    *chosen,
                    dmc.DateInput(
                        id="runs-since",
                        label="From day",
                        size="md",
                        clearable=True,
                        valueFormat="YYYY-MM-DD",
                        className="filter",
                    ),
                    dmc.DateInput(
                        id="runs-until",
                        label="To day",
                        size="md",
                        clearable=True,
                        valueFormat="YYYY-MM-DD",
                        className="filter",
                    ),
                ],
            ),
            html.Div(
                [
                    html.P(id="runs-count", role="status", className="soft"),
                    dcc.Link(go_words([]), href="/compare", id="runs-go", className="key small"),
                ],
                className="answers spread-out",
            ),
            dmc.CheckboxGroup(
                id="runs-picked",
                value=[],
                children=html.Ul(id="runs-list", className="run-list works"),
                wrapperProps={"aria-label": "Runs to compare"},
            ),
        ],
    )


def register(app: Dash, links: Links) -> None:
    """Attach the page's callbacks to an app."""

    @app.callback(
        Output("runs-list", "children"),
        Output("runs-count", "children"),
        *(Output(f"runs-{name}", "data") for name in FILTERS),
        Input("runs-text", "value"),
        *(Input(f"runs-{name}", "value") for name in FILTERS),
        Input("runs-since", "value"),
        Input("runs-until", "value"),
        Input("choices", "data"),
    )
    def _list(text: str | None, *rest: Any) -> Any:
        *filters, since, until, choices = rest
        theme = Choices.of(choices).theme
        asked = dict(zip(FILTERS, filters, strict=True))
        return list_runs(links, text or "", asked, (since, until), theme)

    @app.callback(
        Output("picked", "data"),
        Output("runs-go", "children"),
        Output("runs-go", "href"),
        Input("runs-picked", "value"),
        prevent_initial_call=True,
    )
    def _pick(picked: Any) -> Any:
        ids = list(picked or [])
        return ids, go_words(ids), address(ids) if ids else "/compare"


def go_words(ids: list[str]) -> str:
    """Return what the way to the page that compares is called."""
    if not ids:
        return "Compare: pick runs below"
    if len(ids) > overlay.MOST:
        return f"Compare the first {overlay.MOST} of {len(ids)} picked runs"
    return f"Compare {len(ids)} picked run{'s' if len(ids) > 1 else ''}"


def list_runs(
    links: Links,
    text: str,
    asked: Mapping[str, str | None],
    days: tuple[str | None, str | None],
    theme: Theme,
) -> tuple[Any, ...]:
    """Return the lines, a sentence with their number, and what each filter can be set to.

    Parameters
    ----------
    links : Links
        The way to the catalog.
    text : str
        Words that a run must hold.
    asked : mapping
        What the filters are set to.
    days : tuple
        First and last day as ISO dates; None is open.
    theme : str
        ``dark`` or ``light``.
    """
    catalog = links.catalog()
    everything = catalog.runs()
    wanted: dict[str, str | int] = {name: value for name, value in asked.items() if value}
    if "revision" in wanted:
        wanted["revision"] = int(wanted["revision"])
    found = catalog.runs(
        text=text, since_utc_ns=_day_ns(days[0]), until_utc_ns=_day_ns(days[1], end=True), **wanted
    )
    lines = [draw_card(entry, theme) for entry in found[:MOST]]
    said = f"{len(found)} of {len(everything)} runs"
    if len(found) > MOST:
        said += f"; the newest {MOST} are shown"
    if not everything:
        said = (
            "No run here yet. Start a batch at the bench, or try the virtual bench with: "
            "bainlog demo"
        )
    return lines, said, *(_options(everything, name) for name in FILTERS)


def _options(entries: list[RunEntry], name: str) -> list[str]:
    found: set[str] = set()
    for entry in entries:
        value = {
            "fat": entry.fats,
            "lot": entry.lots,
            "defect": entry.defects,
        }.get(name, getattr(entry, name, None))
        found |= set(value) if isinstance(value, tuple) else {str(value)} if value else set()
    return sorted(found)


def _day_ns(day: str | None, *, end: bool = False) -> int | None:
    """Return the start (or end) of a day of this machine's zone [ns since 1970], or None."""
    try:
        found = datetime.date.fromisoformat(day or "")
    except ValueError:
        return None
    moment = datetime.datetime.combine(found, datetime.time.max if end else datetime.time.min)
    return int(moment.timestamp()) * 1_000_000_000

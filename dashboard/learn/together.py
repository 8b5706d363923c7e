"""The page that compares runs: traces in one graph, what differs, what it did.

The runs come from the address, or from those picked in the list. Their numbers go out as a table,
too: CSV, one line a number.
"""

import csv
import io
from collections.abc import Sequence
from typing import Any
from urllib.parse import parse_qs

import dash_mantine_components as dmc
import flask
from dash import ClientsideFunction, Dash, Input, Output, State, html

from dashboard.graphs import blank_graph
from dashboard.learn.comparing import ANCHORS, AUTO, MANY, MOST, TWO, WAYS, Asked, draw
from dashboard.learn.goodband import GoodBands
from dashboard.learn.groups import BY
from dashboard.learn.portraits import Portraits
from dashboard.links import Links
from dashboard.measures import unbroken
from dashboard.runs import legend
from dashboard.stores import Choices
from logger.model.bench import ROLE_LABELS
from logger.review.compare.compare import compare
from logger.review.compare.grouping import DAY
from logger.review.features.portrait import Portrait
from logger.words.dates import date_text, moment_text
from logger.words.digits import exported

PATH = "/compare/table"


def layout() -> html.Div:
    """Return the page without data."""
    return html.Div(
        className="plain-page wide together-page",
        children=[
            html.Div(
                [
                    html.H1("Compare", id="tog-head"),
                    dmc.SegmentedControl(
                        id="tog-way",
                        value=TWO,
                        data=[{"value": k, "label": v} for k, v in WAYS.items()],
                        className="segments",
                        attributes={"root": {"aria-label": "How many runs are compared"}},
                    ),
                    html.Button(
                        "Add a run",
                        type="button",
                        className="key small",
                        **{"data-chooses": "tog-runs"},
                    ),
                    html.A("Download table", id="tog-table", hidden=True, className="key small"),
                ],
                className="together-top",
            ),
            html.P(id="tog-says", role="status", className="lead"),
            html.Div(
                [
                    html.Div(id="tog-which"),
                    html.Div(
                        [
                            dmc.SegmentedControl(
                                id="tog-by",
                                value=AUTO,
                                data=[{"value": k, "label": v} for k, v in BY.items()],
                                className="segments",
                                attributes={"root": {"aria-label": "What splits the runs"}},
                            ),
                            html.Div(
                                dmc.Select(
                                    id="tog-day",
                                    label="First day of the later batches",
                                    data=[],
                                    allowDeselect=False,
                                    size="md",
                                    className="filter",
                                ),
                                id="tog-days",
                                hidden=True,
                            ),
                        ],
                        id="tog-split",
                        hidden=True,
                    ),
                ],
                className="which-row",
            ),
            html.Details(
                id="tog-choose",
                open=True,
                className="more-of choose",
                children=[
                    html.Summary("Choose runs, trace and event"),
                    dmc.MultiSelect(
                        id="tog-runs",
                        label="Runs to compare, reference first",
                        data=[],
                        searchable=True,
                        maxValues=MOST,
                        size="md",
                        className="filter wide-filter",
                    ),
                    dmc.Select(
                        id="tog-anchor",
                        label="Lined up at",
                        value=AUTO,
                        size="md",
                        data=[
                            {"value": AUTO, "label": "the nearest event"},
                            *({"value": k, "label": v} for k, v in ANCHORS.items()),
                        ],
                        className="filter",
                    ),
                    dmc.Select(
                        id="tog-role",
                        label="Trace",
                        value=AUTO,
                        size="md",
                        className="filter",
                        data=[
                            {"value": AUTO, "label": "what differs most"},
                            *({"value": r, "label": t} for r, t in ROLE_LABELS.items()),
                        ],
                    ),
                    dmc.Checkbox(
                        id="tog-good", label="Typical of good batches", checked=True, size="lg"
                    ),
                ],
            ),
            html.Section(
                className="plate",
                children=[
                    html.H2("Traces"),
                    blank_graph("tog-graph", "together-graph"),
                    legend.layout("tog-graph"),
                    html.Div(id="tog-words"),
                ],
            ),
            html.Div(id="tog-tables", className="run-tables works"),
        ],
    )


def register(app: Dash, links: Links, portraits: Portraits) -> None:
    """Attach the page's callbacks to an app.

    Parameters
    ----------
    app : Dash
        The app.
    links : Links
        The way to the run files.
    portraits : Portraits
        Numbers of the finished runs.
    """
    bands = GoodBands(links, portraits)
    _give_table(app.server, portraits)
    legend.register(app, "tog-graph")
    app.clientside_callback(
        ClientsideFunction("pages", "ways"),
        Output("tog-way", "value", allow_duplicate=True),
        Input("tog-runs", "value"),
        prevent_initial_call=True,
    )

    @app.callback(
        Output("tog-runs", "data"),
        Output("tog-runs", "value"),
        Output("tog-choose", "open"),
        Output("tog-way", "value"),
        Input("where", "pathname"),
        State("where", "search"),
        State("picked", "data"),
    )
    def _choice(_path: Any, search: Any, picked: Any) -> Any:
        known = run_choices(links)
        ids = {choice["value"] for choice in known}
        wanted = asked_for(search) or picked or []
        chosen = [run_id for run_id in wanted if run_id in ids][:MOST]
        return known, chosen, len(chosen) < 2, MANY if len(chosen) > 2 else TWO

    @app.callback(
        Output("tog-graph", "figure"),
        *legend.outputs("tog-graph"),
        Output("tog-head", "children"),
        Output("tog-says", "children"),
        Output("tog-which", "children"),
        Output("tog-words", "children"),
        Output("tog-tables", "children"),
        Output("tog-table", "href"),
        Output("tog-table", "hidden"),
        Output("tog-by", "value"),
        Output("tog-split", "hidden"),
        Output("tog-day", "data"),
        Output("tog-day", "value"),
        Output("tog-days", "hidden"),
        Input("tog-runs", "value"),
        Input("tog-way", "value"),
        Input("tog-by", "value"),
        Input("tog-day", "value"),
        Input("tog-anchor", "value"),
        Input("tog-role", "value"),
        Input("tog-good", "checked"),
        Input("choices", "data"),
    )
    def _draw(
        ids: Any, way: Any, by: Any, day: Any, anchor: Any, role: Any, good: Any, choices: Any
    ) -> Any:
        asked = Asked(
            ids=tuple(ids or ()),
            way=way or TWO,
            by=by or AUTO,
            day=day or "",
            anchor=anchor or AUTO,
            role=role or AUTO,
            good=bool(good),
        )
        told = draw(links, portraits, bands, asked, Choices.of(choices))
        said = (unbroken(told.head), told.says, told.which, told.words, told.tables)
        table = f"{PATH}?runs={','.join(told.compared)}"
        shown = (table, len(told.compared) < 2, told.by or by, not told.by)
        days = [{"value": one, "label": date_text(one)} for one in told.days]
        split = (days, told.day or None, told.by != DAY or not days)
        return told.figure, *legend.draw(told.figure), *said, *shown, *split


def address(run_ids: Sequence[str]) -> str:
    """Return the address of this page with runs chosen, the first the reference."""
    return f"/compare?runs={','.join(run_ids[:MOST])}"


def asked_for(search: str | None) -> list[str]:
    """Return the runs that an address asks for."""
    asked = parse_qs((search or "").removeprefix("?")).get("runs", [""])[0]
    return [run_id for run_id in asked.split(",") if run_id]


def run_choices(links: Links) -> list[dict[str, str]]:
    """Return the finished runs to choose from, newest first."""
    return [
        {
            "value": entry.run_id,
            "label": f"{moment_text(entry.started)} {entry.sheet} r{entry.revision}, "
            f"{entry.outcome or 'not judged yet'}",
        }
        for entry in links.catalog().runs(status="ended")
    ]


def _give_table(server: flask.Flask, portraits: Portraits) -> None:
    @server.get(PATH)
    def _table() -> flask.Response:
        if flask.request.headers.get("Sec-Fetch-Site") == "cross-site":
            return flask.Response("That page may not ask for runs.\n", 403, mimetype="text/plain")
        ids = flask.request.args.get("runs", "").split(",")[:MOST]
        runs = [run for run in map(portraits.readable, filter(None, ids)) if run is not None]
        if len(runs) < 2:
            said = "Choose two or more runs that were ended.\n"
            return flask.Response(said, 404, mimetype="text/plain")
        answer = flask.Response(table_of(runs), mimetype="text/csv; charset=utf-8")
        answer.headers["Content-Disposition"] = 'attachment; filename="compared-runs.csv"'
        return answer


def table_of(runs: Sequence[Portrait]) -> str:
    """Return the numbers of runs as CSV: name, unit, then of each run its value and 2 u."""
    found = compare(runs)
    file = io.StringIO()
    writer = csv.writer(file)
    heads = [
        head
        for run_id in found.runs
        for head in (run_id, f"{run_id}, expanded uncertainty (k = 2)")
    ]
    writer.writerow(["number", "unit", *heads])
    for row in found.rows:
        pairs = zip(row.values, row.us, strict=True)
        cells = [cell for value, u in pairs for cell in (value, None if u is None else 2.0 * u)]
        said = ["" if cell is None else exported(cell) for cell in cells]
        writer.writerow([row.label, row.unit, *said])
    return file.getvalue()

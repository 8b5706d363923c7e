"""The page that compares runs: traces in one graph, what differs, what it did.

What differs and what it did comes from ``logger.review.compare.compare``; this page draws it.
"""

from collections.abc import Sequence
from typing import Any
from urllib.parse import parse_qs

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, html

from dashboard.graphs import Figure, blank_graph
from dashboard.learn import overlay
from dashboard.learn.portraits import Portraits
from dashboard.links import Links
from dashboard.measures import Measures
from dashboard.points import Points
from dashboard.runs import legend
from dashboard.runs.told import Told, draw_told
from dashboard.runs.window import window
from dashboard.stores import Choices
from logger.model.bench import ROLE_LABELS, SCALE_ROLES
from logger.model.errors import BainlogError
from logger.review.compare.compare import Comparison, anchor_s, compare
from logger.review.features.portrait import Portrait

ANCHORS = {"start": "the start", "pour": "the start of the pour", "bath": "the first piece in"}


def layout() -> html.Div:
    """Return the page without data."""
    return html.Div(
        className="plain-page wide",
        children=[
            html.H1("Compare"),
            html.Div(
                className="filters",
                children=[
                    dmc.MultiSelect(
                        id="tog-runs",
                        label="Runs to compare (first = reference)",
                        data=[],
                        searchable=True,
                        maxValues=overlay.MOST,
                        size="md",
                        className="filter wide-filter",
                    ),
                    dmc.Select(
                        id="tog-anchor",
                        label="Lined up at",
                        value="start",
                        size="md",
                        data=[{"value": k, "label": v} for k, v in ANCHORS.items()],
                        className="filter",
                    ),
                    dmc.Select(
                        id="tog-role",
                        label="Trace",
                        value="fat",
                        size="md",
                        className="filter",
                        data=[{"value": r, "label": t} for r, t in ROLE_LABELS.items()],
                    ),
                    dmc.Checkbox(
                        id="tog-good", label="Band of the good runs", checked=True, size="lg"
                    ),
                ],
            ),
            html.P(id="tog-says", role="status", className="answer"),
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


def register(app: Dash, links: Links) -> None:
    """Attach the page's callbacks to an app."""
    portraits = Portraits(links)
    legend.register(app, "tog-graph")

    @app.callback(
        Output("tog-runs", "data"),
        Output("tog-runs", "value"),
        Input("where", "pathname"),
        State("where", "search"),
        State("picked", "data"),
    )
    def _choice(_path: Any, search: Any, picked: Any) -> Any:
        known = run_choices(links)
        ids = {choice["value"] for choice in known}
        wanted = asked_for(search) or picked or []
        return known, [run_id for run_id in wanted if run_id in ids][: overlay.MOST]

    @app.callback(
        Output("tog-graph", "figure"),
        *legend.outputs("tog-graph"),
        Output("tog-says", "children"),
        Output("tog-words", "children"),
        Output("tog-tables", "children"),
        Input("tog-runs", "value"),
        Input("tog-anchor", "value"),
        Input("tog-role", "value"),
        Input("tog-good", "checked"),
        Input("choices", "data"),
    )
    def _draw(ids: Any, anchor: Any, role: Any, good: Any, choices: Any) -> Any:
        figure, *said = draw(
            links,
            portraits,
            list(ids or []),
            anchor or "start",
            role or "fat",
            bool(good),
            Choices.of(choices),
        )
        return figure, *legend.draw(figure), *said


def address(run_ids: Sequence[str]) -> str:
    """Return the address of this page with runs chosen, the first to hold the others against."""
    return f"/compare?runs={','.join(run_ids[: overlay.MOST])}"


def asked_for(search: str | None) -> list[str]:
    """Return the runs that an address asks for."""
    asked = parse_qs((search or "").removeprefix("?")).get("runs", [""])[0]
    return [run_id for run_id in asked.split(",") if run_id]


def run_choices(links: Links) -> list[dict[str, str]]:
    """Return the finished runs to choose from, newest first."""
    return [
        {
            "value": entry.run_id,
            "label": f"{entry.started[:16].replace('T', ' ')} {entry.sheet} r{entry.revision}, "
            f"{entry.outcome or 'not said yet'}",
        }
        for entry in links.catalog().runs(status="ended")
    ]


def draw(
    links: Links,
    portraits: Portraits,
    ids: list[str],
    anchor: str,
    role: str,
    good: bool,
    choices: Choices,
) -> tuple[Figure, str, list[Any], list[Any]]:
    """Return the figure, what can be told in a sentence, the traces in words, and the tables.

    Parameters
    ----------
    links : Links
        The way to the run files.
    portraits : Portraits
        Numbers of the finished runs.
    ids : list of str
        Chosen runs; the first is the one others are compared with.
    anchor : str
        Event at which they are aligned: a key of `ANCHORS`.
    role : str
        Role of the channel drawn.
    good : bool
        Whether the good runs are drawn as a band.
    choices : Choices
        What the person chose to see.
    """
    theme, measures = choices.theme, choices.measures
    unit = "g" if role in SCALE_ROLES else "degC"
    taken = {run_id: _portrait(portraits, run_id) for run_id in ids[: overlay.MOST]}
    runs = [run for run in taken.values() if run is not None]
    without = [run_id for run_id, run in taken.items() if run is None]
    names = names_of(links, ids)
    lines, missing = [], []
    for run in runs:
        points = aligned(links, run, role, anchor)
        if points is None:
            missing.append(run.run_id)
        else:
            lines.append(overlay.Line(names[run.run_id], points))
    band = _good_traces(links, portraits, runs, role, anchor) if good and runs else []
    made = overlay.figure(lines, band, ROLE_LABELS.get(role, role), unit, theme, measures)
    made["layout"]["xaxis"]["title"]["text"] = f"minutes from {ANCHORS[anchor]}"
    told = [Told(line.name, line.points, unit) for line in lines]
    title = f"{ROLE_LABELS.get(role, role)}, time from {ANCHORS[anchor]}"
    words = draw_told(told, measures, title=title)
    said = _says(runs, without, missing, anchor)
    if len(runs) < 2:
        return made, said, words, []
    found = compare(runs)
    return made, f"{found.says} {said}".strip(), words, draw_tables(found, measures, names)


def names_of(links: Links, ids: list[str]) -> dict[str, str]:
    """Return a short name of each chosen run: its number, when it began, how it came out."""
    entries = {entry.run_id: entry for entry in links.catalog().runs()} if ids else {}
    return {
        run_id: f"{number}. {entry.started[:16].replace('T', ' ')}, {entry.outcome or 'not said'}"
        for number, run_id in enumerate(ids, 1)
        for entry in [entries.get(run_id)]
        if entry is not None
    }


def _portrait(portraits: Portraits, run_id: str) -> Portrait | None:
    try:
        return portraits.of(run_id)
    except BainlogError:
        return None


def aligned(links: Links, run: Portrait, role: str, anchor: str) -> Points | None:
    """Return a run's trace with time from the anchor on; None without anchor or channel.

    Parameters
    ----------
    links : Links
        The way to the run files.
    run : Portrait
        The run.
    role : str
        Role of the channel.
    anchor : str
        A key of `ANCHORS`.
    """
    from_s = anchor_s(run, anchor)
    if from_s is None:
        return None
    with links.open_run(run.run_id) as view, view.together():
        channel = view.bench().channel_of(role)
        if channel is None:
            return None
        points = window(view, channel.id, None, None).points
    return Points(points.t_s - from_s, points.value)


def _good_traces(
    links: Links, portraits: Portraits, runs: list[Portrait], role: str, anchor: str
) -> list[Points]:
    found = []
    for entry in links.catalog().runs(product=runs[0].product, outcome="accepted")[:20]:
        run = _portrait(portraits, entry.run_id)
        points = aligned(links, run, role, anchor) if run is not None else None
        if points is not None and points.t_s.size:
            found.append(points)
    return found


def _says(runs: list[Portrait], without: list[str], missing: list[str], anchor: str) -> str:
    said = []
    if not runs:
        said.append("Choose two or more runs that were ended.")
    elif len(runs) == 1:
        said.append("Choose one more run to see what differs.")
    if without:
        said.append(f"Not ended, so not compared: {', '.join(without)}.")
    if missing:
        said.append(f"No such trace, or never {ANCHORS[anchor]}: {', '.join(missing)}.")
    return " ".join(said)


def draw_tables(
    found: Comparison, measures: Measures, names: dict[str, str] | None = None
) -> list[Any]:
    """Draw what differs in the sheets, what the change did, and all numbers.

    Parameters
    ----------
    found : Comparison
        Of the chosen runs.
    measures : Measures
        How numbers are written.
    names : dict or None
        What each run is called in the tables; its id where it is not among them.
    """
    called = {run_id: (names or {}).get(run_id, run_id) for run_id in found.runs}
    heads = ["Number", *called.values()]
    changes = [
        [change.where, change.before or "–", change.after or "–", called[run]]
        for run, changed in zip(found.runs[1:], found.changes, strict=True)
        for change in changed
    ]
    swaps = [
        [swap.group, swap.before, swap.after, called[run]]
        for run, swapped in zip(found.runs[1:], found.swaps, strict=True)
        for swap in swapped
    ]
    effects = [[row.label, row.says] for row in found.effects]
    rows = [
        [
            f"{row.label} ({measures.unit(row.unit)})" if row.unit != "s" else row.label,
            *(_value(v, u, row.unit, measures) for v, u in zip(row.values, row.us, strict=True)),
        ]
        for row in found.rows
    ]
    return [
        _table("Another fat, salt or lot", ["What", "First", "Then", "Run"], swaps),
        _table("Targets that differ", ["What", "First", "Then", "Run"], changes),
        _table("What the change did", ["Number", "Effect"], effects),
        _table("Numbers of each run", heads, rows),
    ]


def _value(value: float | None, u: float | None, unit: str, measures: Measures) -> str:
    expanded = None if u is None else 2.0 * u
    spread = measures.spread(expanded, unit) if value is not None else ""
    return f"{measures.text(value, unit, expanded)} {spread}".strip()


def _table(title: str, heads: list[str], rows: list[list[str]]) -> Any:
    if not rows:
        return None
    return html.Table(
        className="plain-table",
        children=[
            html.Caption(title),
            html.Thead(html.Tr([html.Th(head, scope="col") for head in heads])),
            html.Tbody([html.Tr([html.Td(cell) for cell in row]) for row in rows]),
        ],
    )

"""The lines of a graph by name, each with a piece of it: ticked is drawn, not ticked is hidden.

Pure, but for the callback that hands the ticks to the browser. Boxes to tick, because plotly's own
list of names is not reached by keys, is small under a wet finger, and is measured at each drawing.
"""

from html import unescape
from typing import Any
from urllib.parse import quote

import dash_mantine_components as dmc
from dash import ClientsideFunction, Dash, Input, Output, State, html

from dashboard.graphs import Figure

LEAST_PX = 3.0
"""A line in its picture is at least so wide."""
WIDTH, HEIGHT = 34, 12
UNNAMED = "good:"
"""Lines whose meta begins so have no box: the page says what they are."""


def layout(graph: str) -> dmc.CheckboxGroup:
    """Return the place of the names of a graph's lines, empty."""
    return dmc.CheckboxGroup(
        html.Div(id=f"{graph}-names", className="line-names"),
        id=f"{graph}-lines",
        label="Lines shown",
        value=[],
        className="line-group",
    )


def outputs(graph: str) -> tuple[Output, Output]:
    """Return where what `draw` made goes."""
    return Output(f"{graph}-names", "children"), Output(f"{graph}-lines", "value")


def register(app: Dash, graph: str) -> None:
    """Let the ticks of a graph show and hide its lines."""
    app.clientside_callback(
        ClientsideFunction("pages", "ticked"),
        Input(f"{graph}-lines", "value"),
        State(graph, "id"),
    )
    app.clientside_callback(
        ClientsideFunction("pages", "times"), Input(graph, "figure"), State(graph, "id")
    )


def draw(figure: Figure) -> tuple[list[Any], list[str]]:
    """Return the boxes of a figure's lines, and the ticked ones: their places in it."""
    lines = figure["data"]
    boxes = [
        dmc.Checkbox(
            value=str(place),
            label=unescape(line["name"]),
            size="md",
            style={"--piece": _piece(line)},
        )
        for place, line in enumerate(lines)
        if not str(line.get("meta", "")).startswith(UNNAMED)
    ]
    return boxes, [str(k) for k, line in enumerate(lines) if line.get("visible", True)]


def _piece(line: Figure) -> str:
    """Return a picture of a line, or of the ground of a band, as the style sheet takes it."""
    middle, pen = HEIGHT / 2, line["line"]
    drawn = (
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="{line["fillcolor"]}" '
        f'stroke="{pen["color"]}"/>'
        if "fill" in line
        else f'<path d="M0 {middle}H{WIDTH}" stroke="{pen["color"]}" '
        f'stroke-width="{max(LEAST_PX, pen.get("width", LEAST_PX)):g}" '
        f'stroke-dasharray="{_dashes(pen.get("dash", "solid"))}"/>'
    )
    picture = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}">{drawn}</svg>'
    )
    return f"url('data:image/svg+xml,{quote(picture)}')"


def _dashes(dash: str) -> str:
    return {"solid": "none", "dot": "3,3"}.get(dash, dash)

"""The place of a graph on a page: empty until its figure comes, without plotly's own buttons."""

from typing import Any

from dash import dcc

from dashboard.palette import CLEAR

Figure = dict[str, Any]
"""A figure, or a part of one (a line, an axis, a shape), in the form plotly draws."""

EMPTY: Figure = {
    "data": [],
    "layout": {
        "paper_bgcolor": CLEAR,
        "plot_bgcolor": CLEAR,
        "xaxis": {"visible": False},
        "yaxis": {"visible": False},
    },
}
"""A graph before its figure came: nothing is seen of it."""


def blank_graph(graph: str, look: str, **more: Any) -> dcc.Graph:
    """Return the empty place of a graph.

    Parameters
    ----------
    graph, look : str
        Its id, and its class in the style sheets.
    **more
        What else its configuration says.
    """
    return dcc.Graph(
        id=graph,
        figure=EMPTY,
        responsive=True,
        config={"displayModeBar": False, "scrollZoom": False, "showTips": False, **more},
        className=look,
    )

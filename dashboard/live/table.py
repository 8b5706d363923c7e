"""The strip's contents as a table: what each channel reads now and where it should be.

Pure: state in, components out.
"""

from typing import Any

from dash import html

from dashboard.measures import Measures

HEADS = ("Channel", "Now", "Uncertainty", "Should be")


def draw_table(state: dict[str, Any] | None, measures: Measures) -> list[Any]:
    """Draw one row a channel."""
    if state is None or not state["channels"]:
        return []
    return [
        html.Table(
            className="plain-table",
            children=[
                html.Caption("What the traces show now"),
                html.Thead(html.Tr([html.Th(head, scope="col") for head in HEADS])),
                html.Tbody([_row(channel, measures) for channel in state["channels"]]),
            ],
        )
    ]


def _row(channel: dict[str, Any], measures: Measures) -> html.Tr:
    unit = channel["unit"]
    value = measures.text(channel["value"], unit) if channel["status"] == "live" else "no value"
    band = measures.band(channel.get("low"), channel.get("high"), unit)
    return html.Tr(
        [
            html.Th(channel["label"] or channel["id"], scope="row"),
            html.Td(f"{value} {measures.unit(unit)}" if value != "no value" else value),
            html.Td(measures.spread(channel.get("u_expanded"), unit) or "unknown"),
            html.Td(band or "no target in this stage"),
        ]
    )

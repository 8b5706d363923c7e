"""The strip's contents as tables: what each channel reads now, what it read, what was marked.

Pure: state, lines and events in, components out.
"""

from typing import Any

from dash import html

from dashboard.live.drawing.furniture import symbol_of, text_of
from dashboard.measures import Measures
from dashboard.runs.told import Told, draw_told
from logger.model.event import Event
from logger.model.state import ChannelView, State
from logger.words.durations import clock

HEADS = ("Sensor", "Now", "Uncertainty", "Target")
MOST_MARKS = 30
"""The latest marks that have a row."""


def draw_table(
    state: State | None,
    measures: Measures,
    lines: list[Told] | None = None,
    events: list[Event] | None = None,
) -> list[Any]:
    """Draw one row a channel, the lines so far in words and at round times, and the marks.

    Parameters
    ----------
    state : State or None
        The recorder's state; None when no recorder answers.
    measures : Measures
        How numbers are written.
    lines : list of Told or None
        What the strip shows.
    events : list of Event or None
        Of the run so far.
    """
    if state is None or not state.channels:
        return []
    return [
        *draw_told(lines or [], measures, title="The traces so far"),
        _marks([event for event in events or [] if symbol_of(event)][-MOST_MARKS:], measures),
        html.Table(
            className="plain-table",
            children=[
                html.Caption("What the traces show now"),
                html.Thead(html.Tr([html.Th(head, scope="col") for head in HEADS])),
                html.Tbody([_row(channel, measures) for channel in state.channels]),
            ],
        ),
    ]


def _row(channel: ChannelView, measures: Measures) -> html.Tr:
    unit = channel.unit
    live, u_expanded = channel.status == "live", channel.u_expanded
    value = measures.text(channel.value, unit, u_expanded) if live else "no value"
    band = measures.band(channel.low, channel.high, unit)
    return html.Tr(
        [
            html.Th(channel.label or channel.id, scope="row"),
            html.Td(f"{value} {measures.unit(unit)}" if value != "no value" else value),
            html.Td(measures.spread(u_expanded, unit) or "unknown"),
            html.Td(band or "no target in this stage"),
        ]
    )


def _marks(events: list[Event], measures: Measures) -> html.Table | None:
    if not events:
        return None
    rows = [
        html.Tr([html.Th(clock(e.t_ns / 1e9), scope="row"), html.Td(text_of(e, measures))])
        for e in events
    ]
    return html.Table(
        [
            html.Caption("Marked on the traces"),
            html.Thead(html.Tr([html.Th(head, scope="col") for head in ("At", "What")])),
            html.Tbody(rows),
        ],
        className="plain-table",
    )

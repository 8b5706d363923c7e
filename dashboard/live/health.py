"""Each sensor: its value, how it is, how old its last sample is.

Pure: state in, components out. The age is counted in the browser from the times in the answer, so
that a screen that hears nothing shows it growing.
"""

from typing import Any

from dash import html

from dashboard.live.sentence import symbol
from dashboard.measures import Measures
from logger.model.state import ChannelView, State
from logger.words.counts import count_text

STATUS = {
    "live": ("good", "live"),
    "waiting": ("wait", "waiting"),
    "stale": ("stop", "stale"),
    "stuck": ("warn", "does not move"),
    "open": ("stop", "open circuit"),
    "fault": ("stop", "fault"),
    "over": ("stop", "over range"),
    "under": ("stop", "under range"),
    "untrusted": ("stop", "lines not understood"),
    "out": ("warn", "out of the food?"),
}


def draw_health(state: State | None, measures: Measures) -> list[Any]:
    """Draw one row a channel."""
    if state is None:
        return []
    channels = state.channels
    if not channels:
        return [html.P("No sensor is set up. Plug an instrument in, then run: bainlog ports")]
    rows = [_row(channel, measures) for channel in channels]
    return [
        html.Table(
            className="health",
            children=[
                html.Caption("Sensors", className="unseen"),
                html.Thead(
                    html.Tr(
                        [html.Th(t, scope="col") for t in ("Sensor", "Value", "Status", "Age")]
                    ),
                    className="unseen-head",
                ),
                html.Tbody(rows),
            ],
        ),
        *_checks(channels),
    ]


def draw_sensors(state: State | None) -> html.Span:
    """Draw in one line how the sensors are; the table below it opens where it has something to say,
    and between batches, when each sensor can be tried."""
    channels = [] if state is None else state.channels
    looks = [STATUS.get(c.status, ("warn", c.status)) for c in channels]
    odd = [place for place, (look, _) in enumerate(looks) if look in ("stop", "warn")]
    opens = bool(odd) or state is None or state.phase != "recording"
    if not channels:
        look, words = "wait", "Sensors"
    elif len(odd) == 1:
        look, word = looks[odd[0]]
        words = f"{channels[odd[0]].label or channels[odd[0]].id}: {word}"
    else:
        live = [one for one, _ in looks].count("good")
        look = "stop" if ("stop" in {one for one, _ in looks}) else "warn" if odd else "wait"
        look = "good" if live == len(channels) else look
        of = "" if live == len(channels) else f"{live} of "
        words = f"{of}{count_text(len(channels), 'sensor')} live"
        if look == "wait":
            waits = len(channels) - live
            of = f"{waits} of " if live else ""
            words = f"Waiting for {of}{count_text(len(channels), 'sensor')}"
    return html.Span(
        [symbol(look), html.Span(f" {words}")],
        className=f"verdict look-{look}",
        **({"data-opens-fold": "1"} if opens else {}),
    )


def _checks(channels: list[ChannelView]) -> list[html.P]:
    """Name the overdue checks, each with what to do, and in one line those never made."""
    lines = [
        html.P(
            html.Span(
                [symbol("warn"), html.Span(f" {c.label or c.id}: {c.checked}")],
                className="verdict look-warn",
            ),
            className="hint",
        )
        for c in channels
        if c.check == "overdue"
    ]
    never = [c.label or c.id for c in channels if c.check == "never"]
    if never:
        lines.append(html.P(f"Never checked: {', '.join(never)}", className="hint"))
    return lines


def _row(channel: ChannelView, measures: Measures) -> html.Tr:
    look, word = STATUS.get(channel.status, ("warn", channel.status))
    trusted = channel.status in ("live", "stuck")
    value = measures.text(channel.value if trusted else None, channel.unit, channel.u_expanded)
    unit = measures.unit(channel.unit)
    return html.Tr(
        className=f"look-{look}",
        children=[
            html.Th(
                [
                    html.Span(className=f"swatch role-{channel.role}", **{"aria-hidden": "true"}),
                    html.Span(channel.label or channel.id),
                ],
                scope="row",
            ),
            html.Td([html.Span(value, className="health-value"), html.Span(f" {unit}")]),
            html.Td(
                [symbol(look), html.Span(word)],
                className="health-word",
                title=channel.says or None,
            ),
            html.Td(html.Span(**{"data-age-of": channel.id}), className="health-age"),
        ],
    )


def draw_ports(state: State | None) -> list[Any]:
    """Draw what the ports and the recorder complain about; an empty list when all is well."""
    if state is None:
        return []
    lines = [
        html.Li([symbol("stop"), html.Span(f"{port.instrument}: {port.says}")])
        for port in state.ports
        if port.says and port.status != "connected"
    ]
    if state.recorder.disk == "full":
        lines.insert(
            0,
            html.Li(
                [
                    symbol("stop"),
                    html.Span(
                        "The disk is full. Free some space: readings wait "
                        "in memory and are written as soon as they fit."
                    ),
                ]
            ),
        )
    return [html.Ul(lines, className="ports")] if lines else []

"""What is plugged in, which sensor is which, and how a sensor is checked.

Draws the recorder's state and its bench, and sends it commands. In reading order:

- ``begin``    plug in, or the virtual bench where nothing is connected yet
- ``teaching`` lines that nobody knows: point at the number
- ``which``    the channel that moves gets the role
- ``checking`` ice point, boiling point, check weight
"""

from typing import Any

from dash import Dash, Input, Output, State, dcc, html, no_update

from dashboard.links import Links
from dashboard.live.health import STATUS
from dashboard.live.sentence import symbol
from dashboard.measures import Measures
from dashboard.stores import Choices, encode
from dashboard.wiring import begin, checking, teaching, which
from dashboard.wiring.checking import Known
from logger.model.bench import Bench
from logger.model.state import ChannelView
from logger.model.state import State as RunState

BEAT_MS = 700


def layout() -> html.Div:
    """Return the page without data."""
    return html.Div(
        className="plain-page wide",
        children=[
            dcc.Interval(id="wiring-beat", interval=BEAT_MS),
            dcc.Store(id="wiring-known"),
            html.H1("Instruments"),
            html.P(id="wiring-due", className="due-line"),
            html.Section(id="wiring-now", className="plate wide-tables"),
            html.Div(
                [which.layout(), checking.layout()], id="wiring-acts", className="wiring-acts"
            ),
            html.Section(id="wiring-ports", className="plate wide-tables"),
            begin.layout(),
        ],
    )


def register(app: Dash, links: Links) -> None:
    """Attach the page's callbacks to an app."""

    @app.callback(
        Output("wiring-now", "children"),
        Output("wiring-ports", "children"),
        Output("wiring-due", "children"),
        Output("wiring-known", "data"),
        Output("begin", "hidden"),
        Output("wiring-now", "hidden"),
        Output("wiring-acts", "hidden"),
        Output("wiring-ports", "hidden"),
        Input("wiring-beat", "n_intervals"),
        Input("choices", "data"),
        State("wiring-known", "data"),
    )
    def _now(_beat: Any, choices: Any, known: Any) -> Any:
        state = links.state()
        channels = state.channels if state else []
        names = encode([Known(id=c.id, label=c.label or c.id, unit=c.unit) for c in channels])
        drawn = draw_now(state, Choices.of(choices).measures)
        ports = draw_ports(state, links.bench())
        new = bool(state is None or not channels) and not is_wired(links, state)
        fresh = names if names != known else no_update
        gone = not channels
        return drawn, ports, draw_due(channels), fresh, not new, new, gone, gone

    for part in (begin, teaching, which, checking):
        part.register(app, links)


def is_wired(links: Links, state: RunState | None) -> bool:
    """Whether instruments were set up here before."""
    return bool(state and state.ports) or (state is None and not links.is_new())


def draw_due(channels: list[ChannelView]) -> Any:
    """Name the sensors whose check is overdue."""
    due = [c.label or c.id for c in channels if c.check == "overdue"]
    if not due:
        return None
    return html.Span([symbol("warn"), f" Check overdue: {', '.join(due)}"], className="look-warn")


def draw_now(state: RunState | None, measures: Measures) -> Any:
    """Draw the channels, each with its value, how it is, and how its check stands."""
    if state is None:
        return [
            html.P("The recorder does not answer, so bainlog can't listen to any port."),
            html.P(["Start it again with: ", html.Code("bainlog start")]),
        ]
    channels = [_channel(c, measures) for c in state.channels]
    return _table("Sensors", ["Sensor", "Source", "Now", "Status", "Last check"], channels)


def draw_ports(state: RunState | None, bench: Bench | None) -> Any:
    """Draw the instruments and their ports."""
    shapes = {i.id: i.shape for i in bench.instrument} if bench else {}
    ports = [
        [
            port.instrument,
            port.port,
            shapes.get(port.instrument, ""),
            port.status,
            port.says or "",
        ]
        for port in (state.ports if state else [])
    ]
    heads = ["Instrument", "Port", "Line format", "Status", "What it says"]
    return [
        _table("Instruments on their ports", heads, ports),
        html.P("Plugged in something new? Listen to it below.", className="hint"),
    ]


def _channel(channel: ChannelView, measures: Measures) -> list[Any]:
    look, word = STATUS.get(channel.status, ("warn", channel.status))
    live = channel.status in ("live", "stuck")
    value = channel.value if live else None
    instrument = channel.instrument
    return [
        channel.label or channel.id,
        f"{channel.id} on {instrument}" if instrument else channel.id,
        measures.value(value, channel.unit, channel.u_expanded),
        html.Span([symbol(look), html.Span(word)], className=f"verdict look-{look}"),
        _check(channel),
    ]


def _check(channel: ChannelView) -> Any:
    """Say how the sensor's check stands; only an overdue one is marked."""
    says = channel.checked or "not known"
    if channel.check != "overdue":
        return says
    return html.Span([symbol("warn"), html.Span(says)], className="verdict look-warn")


def _table(title: str, heads: list[str], rows: list[list[Any]]) -> Any:
    if not rows:
        return html.P(f"{title}: none.")
    cells = [
        html.Tr(
            [html.Td(cell, **{"data-head": head}) for cell, head in zip(row, heads, strict=True)]
        )
        for row in rows
    ]
    return html.Table(
        className="plain-table folding",
        children=[
            html.Caption(title),
            html.Thead(html.Tr([html.Th(head, scope="col") for head in heads])),
            html.Tbody(cells),
        ],
    )

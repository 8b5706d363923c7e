"""Plug in: the ports are listened to, and what was heard is added to the bench.

Where nothing is connected yet, the virtual bench can be tried too. The recorder listens; it also
writes the bench file.
"""

from dataclasses import dataclass, replace
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html, no_update

from dashboard.answers import Done, Survey
from dashboard.links import Links
from dashboard.live.sentence import symbol
from dashboard.stores import decode, encode
from dashboard.wiring import teaching
from dashboard.wiring.answering import (
    FIRST,
    WHY,
    columns_field,
    is_answered,
    numbers_field,
    probe_fields,
    scale_fields,
)
from dashboard.wiring.checking import sent


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the person asked for on this page: to listen to the ports, to start the demo."""

    ports: bool = False
    demo: bool = False


NO_RECORDER = [
    html.P("The recorder is not running, so bainlog can't listen to any port. Start it with:"),
    html.P(html.Code("bainlog start")),
]


def layout() -> html.Div:
    """Return both ways without data."""
    return html.Div([_try_out(), _plug_in()], className="begin")


def _try_out() -> html.Section:
    """Return the way to the virtual bench; it is hidden once there are channels."""
    return html.Section(
        id="begin",
        hidden=True,
        className="plate",
        children=[
            html.H2("Nothing to plug in? Look around first"),
            html.P(
                "The virtual bench is a simulated table with probes and scales. It plays a whole "
                "batch, from melting the fat to the last piece out of the bath. Your own runs are "
                "kept separate."
            ),
            html.Div(id="begin-demo"),
            html.P(id="begin-demo-says", role="status", className="said"),
        ],
    )


def _plug_in() -> html.Section:
    """Return the section that listens to the ports."""
    return html.Section(
        className="plate",
        children=[
            dcc.Store(id="begin-asked", data=encode(Asked())),
            html.H2("Plug in your probes and scales"),
            html.Ol(
                [
                    html.Li("Plug them into this computer: USB, or a serial adapter."),
                    html.Li("Switch them on. Set a scale to send continuously if it can."),
                    html.Li("Let bainlog listen to what is plugged in."),
                ],
                className="steps",
            ),
            html.Div(id="begin-ports"),
            dmc.TextInput(
                id="begin-port",
                label="A port that is not listed",
                placeholder="socket://10.0.0.5:4001",
                size="lg",
            ),
            teaching.layout(),
            html.Div(
                [
                    *probe_fields("begin"),
                    *scale_fields("begin"),
                    numbers_field("begin"),
                    columns_field("begin"),
                ],
                className="answers wrap at-foot",
            ),
            html.P(WHY, className="hint"),
            html.P(id="begin-ports-says", role="status", className="said"),
        ],
    )


def register(app: Dash, links: Links) -> None:
    """Attach the section's callbacks to an app."""

    @app.callback(
        Output("begin-demo", "children"),
        Output("begin-demo-says", "children"),
        Input("begin", "hidden"),
        Input("wiring-beat", "n_intervals"),
        State("begin-asked", "data"),
        State("begin-demo", "children"),
    )
    def _demo(hidden: Any, _beat: Any, asked: Any, drawn: Any) -> Any:
        demo = _asked(asked).demo
        if hidden or (drawn and not demo):
            return no_update, no_update
        return draw_demo(links, demo)

    @app.callback(
        Output("begin-asked", "data"),
        Input("begin-demo-go", "n_clicks"),
        State("begin-asked", "data"),
        prevent_initial_call=True,
    )
    def _go(clicks: Any, asked: Any) -> Any:
        if not clicks or links.try_out is None:
            return no_update
        links.try_out(begin=True)
        return encode(replace(_asked(asked), demo=True))

    @app.callback(
        Output("begin-ports", "children"),
        Input("wiring-beat", "n_intervals"),
        State("begin-ports", "children"),
        State("begin-asked", "data"),
    )
    def _ports(_beat: Any, drawn: Any, asked: Any) -> Any:
        if drawn and not _asked(asked).ports and links.state() is not None:
            return no_update
        return draw_ports(links)

    @app.callback(
        Output("begin-asked", "data", allow_duplicate=True),
        Output("begin-ports-says", "children"),
        Input("begin-listen", "n_clicks"),
        State("begin-asked", "data"),
        State("begin-port", "value"),
        prevent_initial_call=True,
    )
    def _listen(clicks: Any, asked: Any, port: Any) -> Any:
        if not clicks:
            return no_update, no_update
        about = {"begin": True, "port": port or ""}
        answer, says = sent(links, "survey", about, Survey)
        return encode(replace(_asked(asked), ports=answer is not None)), says

    @app.callback(
        Output("begin-ports-says", "children", allow_duplicate=True),
        Input("begin-adopt", "n_clicks"),
        State("begin-type", "value"),
        State("begin-class", "value"),
        State("begin-accuracy", "value"),
        State("begin-scale", "value"),
        State("begin-interval", "value"),
        State("begin-numbers", "value"),
        State("begin-columns", "value"),
        prevent_initial_call=True,
    )
    def _adopt(
        clicks: Any,
        type_: Any,
        class_: Any,
        accuracy: Any,
        scale: Any,
        interval: Any,
        numbers: Any,
        columns: Any,
    ) -> Any:
        if not clicks:
            return no_update
        about = {}
        if is_answered(type_, class_, accuracy):
            about = {"probe_type": type_, "probe_class": class_ or "", "probe_size": accuracy or ""}
        if scale:
            about |= {"scale_class": scale, "scale_size": interval or ""}
        if not about:
            return FIRST
        if numbers:
            about |= {"numbers": numbers, "columns": columns or ""}
        answer, says = sent(links, "adopt_bench", about, Done)
        return answer.says if answer else says


def _asked(data: object) -> Asked:
    return decode(Asked, data) or Asked()


def draw_demo(links: Links, asked: bool) -> tuple[Any, str]:
    """Draw the way to the virtual bench: a button where it can be started, else its command."""
    if links.try_out is None:
        return html.P(["In a terminal: ", html.Code("bainlog demo")]), ""
    found = links.try_out(begin=False)
    if found.url:
        link = html.A(
            [symbol("next"), "Open the virtual bench"],
            href=found.url,
            target="_blank",
            className="key main",
            id="begin-demo-open",
        )
        return link, "It plays six times as fast as a real bench, and stops with this program."
    if found.failed:
        return html.P(["In a terminal: ", html.Code("bainlog demo")]), found.failed
    busy = asked or found.busy
    button = html.Button(
        "Start the virtual bench",
        id="begin-demo-go",
        type="button",
        className="key main",
        disabled=busy,
    )
    return button, "Starting. This takes a few seconds." if busy else ""


def draw_ports(links: Links) -> list[Any]:
    """Draw what can be done about the ports, and what was heard on them."""
    answer, _ = sent(links, "survey", {}, Survey)
    if answer is None:
        return list(NO_RECORDER)
    button = html.Button(
        "Listening" if answer.busy else "Listen again" if answer.asked else "Listen",
        id="begin-listen",
        type="button",
        className="key",
        disabled=answer.busy,
    )
    if answer.busy:
        return [
            button,
            html.P(
                "bainlog tries every usual speed on each port: up to a minute.",
                className="soft",
            ),
            html.Ul([html.Li(one) for one in answer.tried], className="dots"),
        ]
    heard = answer.heard
    if not answer.asked:
        return [button]
    if not heard:
        return [button, html.P("No serial port found. Is the cable in, and is it a data cable?")]
    known = [one for one in heard if one.shape]
    listed = html.Ul([html.Li(one.says) for one in heard], className="dots")
    if not known:
        hint = "None sends a line format that bainlog knows. Is it switched on, and does it send?"
        if any(one.lines for one in heard):
            hint = "Point below at the number that the display shows."
        return [button, listed, html.P(hint)]
    take = html.Button("Use these", id="begin-adopt", type="button", className="key main")
    return [listed, html.Div([take, button], className="answers wrap")]

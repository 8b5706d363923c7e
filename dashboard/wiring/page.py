"""What is plugged in, which channel is which, and how a sensor is checked.

Draws the recorder's state and its bench; writes nothing. To find out which probe is which, warm one
in the hand: the channel that moves most since *Listen* was pressed is named.
"""

from typing import Any

from dash import Dash, Input, Output, State, dcc, html

from dashboard.links import Links
from dashboard.live.health import STATUS
from dashboard.live.sentence import symbol
from dashboard.measures import Measures

BEAT_MS = 700
MOVES = {"degC": 1.0, "g": 2.0}
"""Least change that counts as moving [degC or g]; below it is noise."""

CHECKS = (
    (
        "Ice point: a probe at 0 °C",
        (
            "Fill an insulated cup with crushed ice, then clean cold water up to just under the "
            "top of the ice.",
            "Stir, and wait three minutes. There must be ice down to the bottom.",
            "Hold the probe in the middle, off the ice and the wall, and keep stirring.",
            "Run: bainlog sensor-check {channel} --ice",
        ),
    ),
    (
        "Boiling point: a probe in boiling water",
        (
            "Bring clean water to a rolling boil. Steam scalds: keep hands and face away.",
            "Hold the probe in the water, off the bottom and the wall.",
            "Read the station pressure from a barometer here, not the one for sea level.",
            "Run: bainlog sensor-check {channel} --boil --pressure '98.2 kPa'",
        ),
    ),
    (
        "Check weight: a scale with a known mass",
        (
            "Let the scale warm up, level it, and tare it empty.",
            "Put a check weight on the middle of the plate. Touch nothing.",
            "Run: bainlog sensor-check {channel} --weight '1 kg'",
        ),
    ),
)
"""Procedures step by step; common practice, no source."""


def layout() -> html.Div:
    """Return the page without data."""
    return html.Div(
        className="plain-page wide",
        children=[
            dcc.Interval(id="wiring-beat", interval=BEAT_MS),
            dcc.Store(id="wiring-base"),
            html.H1("Instruments"),
            html.P(
                "Which probe is which? Press Listen, then warm one probe in your hand or press "
                "on one scale."
            ),
            html.Div(
                [
                    html.Button("Listen", id="wiring-listen", type="button", className="key main"),
                    html.P(id="wiring-says", role="status", className="answer"),
                ],
                className="listen",
            ),
            html.Section(id="wiring-now", className="plate"),
            html.H2("Check a sensor"),
            html.Div([_procedure(title, steps) for title, steps in CHECKS], className="procedures"),
        ],
    )


def _procedure(title: str, steps: tuple[str, ...]) -> html.Details:
    shown = [html.Li(step.format(channel="CHANNEL")) for step in steps]
    return html.Details(
        [html.Summary(title), html.Ol(shown, className="steps")], className="as-table plate"
    )


def register(app: Dash, links: Links) -> None:
    """Attach the page's callbacks to an app."""

    @app.callback(
        Output("wiring-now", "children"),
        Output("wiring-says", "children"),
        Input("wiring-beat", "n_intervals"),
        Input("choices", "data"),
        State("wiring-base", "data"),
    )
    def _now(_beat: Any, choices: Any, base: Any) -> Any:
        state = links.state()
        return draw_now(state, links.ask("describe"), Measures.of(choices)), moving(state, base)

    @app.callback(
        Output("wiring-base", "data"), Input("wiring-listen", "n_clicks"),
        prevent_initial_call=True,
    )  # fmt: skip
    def _listen(_clicks: Any) -> Any:
        state = links.state()
        return {c["id"]: c["value"] for c in state["channels"]} if state else None


def moving(state: dict[str, Any] | None, base: dict[str, Any] | None) -> str:
    """Say which channel moved most since the values in `base`."""
    if state is None or not base:
        return ""
    moved = []
    for channel in state["channels"]:
        before = base.get(channel["id"])
        if before is None or channel["value"] is None or channel["status"] != "live":
            continue
        change = abs(channel["value"] - before) / MOVES.get(channel["unit"], 1.0)
        moved.append((change, channel["label"] or channel["id"]))
    moved.sort(reverse=True)
    if not moved or moved[0][0] < 1.0:
        return "Listening: nothing moves yet."
    if len(moved) > 1 and moved[1][0] > 0.5 * moved[0][0]:
        return f"Both {moved[0][1]} and {moved[1][1]} move. Warm one alone."
    return f"{moved[0][1]} moves."


def draw_now(
    state: dict[str, Any] | None, described: dict[str, Any] | None, measures: Measures
) -> list[Any]:
    """Draw the ports and the channels."""
    if state is None:
        return [
            html.P("The recorder does not answer, so nothing can be listened to."),
            html.P("With instruments plugged in, run: bainlog ports --write, then bainlog start"),
            html.P("With none, try the virtual bench: bainlog demo"),
        ]
    bench = (described or {}).get("bench") or {}
    shapes = {i["id"]: i.get("shape", "") for i in bench.get("instrument", [])}
    wired = {c["id"]: c for c in bench.get("channel", [])}
    ports = [
        [port["instrument"], port.get("port", ""), shapes.get(port["instrument"], ""),
         port.get("status", ""), port.get("says") or ""]
        for port in state["ports"]
    ]  # fmt: skip
    channels = [_channel(c, wired.get(c["id"], {}), measures) for c in state["channels"]]
    return [
        _table("Instruments", ["Name", "Port", "Line shape", "Status", "What it says"], ports),
        _table(
            "Channels",
            ["Channel", "Id", "Instrument", "Now", "How it is", "Check"],
            channels,
        ),
    ]


def _channel(channel: dict[str, Any], wired: dict[str, Any], measures: Measures) -> list[Any]:
    look, word = STATUS.get(channel["status"], ("warn", channel["status"]))
    live = channel["status"] in ("live", "stuck")
    value = measures.text(channel["value"], channel["unit"]) if live else "–"
    spread = measures.spread(channel.get("u_expanded"), channel["unit"]) if live else ""
    return [
        channel["label"] or channel["id"],
        channel["id"],
        channel.get("instrument") or wired.get("instrument", ""),
        f"{value} {spread} {measures.unit(channel['unit'])}",
        html.Span([symbol(look), html.Span(word)], className=f"verdict look-{look}"),
        _check(channel),
    ]


def _check(channel: dict[str, Any]) -> Any:
    """Say how the sensor's check stands; only an overdue one is marked."""
    says = channel.get("checked") or "not known"
    if channel.get("check") != "overdue":
        return says
    return html.Span([symbol("warn"), html.Span(says)], className="verdict look-warn")


def _table(title: str, heads: list[str], rows: list[list[Any]]) -> Any:
    if not rows:
        return html.P(f"{title}: none.")
    return html.Table(
        className="plain-table",
        children=[
            html.Caption(title),
            html.Thead(html.Tr([html.Th(head, scope="col") for head in heads])),
            html.Tbody([html.Tr([html.Td(cell) for cell in row]) for row in rows]),
        ],
    )

"""A sensor held against a known value, step by step: ice, boiling water, a check weight.

The recorder reads, judges and writes the correction; this draws where the check stands.
"""

from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html, no_update

from dashboard.links import Links
from dashboard.measures import Measures
from logger.control.client import GoneError, RefusedError
from logger.words.durations import clock

WAYS = {
    "ice": ("Ice point, 0 °C", "degC"),
    "boil": ("Boiling water", "degC"),
    "weight": ("Check weight", "g"),
}
"""Name of each way and the unit of the channels that it is for."""

STEPS = {
    "ice": (
        "Fill an insulated cup with crushed ice, then clean cold water up to just under the top "
        "of the ice.",
        "Stir, and wait three minutes. There must be ice down to the bottom.",
        "Hold the probe in the middle, off the ice and the wall, and keep stirring.",
    ),
    "boil": (
        "Bring clean water to a rolling boil. Steam scalds: keep hands and face away.",
        "Hold the probe in the water, off the bottom and the wall.",
        "Read the station pressure from a barometer here, not the one for sea level. Without a "
        "barometer give the altitude; weather then moves the result by up to 0.8 K.",
    ),
    "weight": (
        "Let the scale warm up, level it, and tare it empty.",
        "Put a check weight on the middle of the plate. Touch nothing.",
        "Type the mass that stands on the weight.",
    ),
}
"""Procedures step by step; common practice, no source."""

LAST = "Press Begin and keep still for a minute: the readings are kept as a short run."
NONE: dict[str, Any] = {"stage": "none"}


def layout() -> html.Section:
    """Return the section without data."""
    return html.Section(
        className="plate checking",
        children=[
            dcc.Store(id="check-run", storage_type="session", data=NONE),
            html.H2("Check a sensor"),
            html.Div(
                [
                    dmc.Select(id="check-channel", label="Sensor", data=[], size="lg",
                               allowDeselect=False, className="filter"),
                    dmc.Select(id="check-way", label="Held against", data=[], size="lg",
                               allowDeselect=False, className="filter"),
                    *_fields(),
                ],
                className="answers wrap at-foot",
            ),
            html.Div(
                [
                    html.Button("Begin", id="check-begin", type="button", className="key main"),
                    html.Button("Stop it", id="check-stop", type="button", className="key",
                                disabled=True),
                    html.Button("Write it down", id="check-write", type="button", className="key",
                                disabled=True),
                ],
                className="answers wrap",
            ),
            html.P(id="check-says", role="status", className="answer"),
            html.Ol(id="check-steps", className="steps"),
        ],
    )  # fmt: skip


def _fields() -> list[Any]:
    texts = (
        ("weight", "Mass on the weight", "1 kg"),
        ("pressure", "Station pressure", "98.2 kPa"),
        ("altitude", "or altitude", "340 m"),
    )
    return [
        html.Div(
            dmc.TextInput(id=f"check-{name}", label=label, placeholder=sample, size="lg"),
            id=f"check-field-{name}", hidden=True, className="filter",
        )
        for name, label, sample in texts
    ]  # fmt: skip


def register(app: Dash, links: Links) -> None:
    """Attach the section's callbacks to an app."""

    @app.callback(
        Output("check-channel", "data"),
        Output("check-channel", "value"),
        Input("wiring-known", "data"),
        State("check-channel", "value"),
    )
    def _channels(known: Any, chosen: Any) -> Any:
        rows = [{"value": c["id"], "label": c["label"]} for c in known or []]
        ids = [row["value"] for row in rows]
        return rows, chosen if chosen in ids else next(iter(ids), None)

    @app.callback(
        Output("check-way", "data"),
        Output("check-way", "value"),
        Input("check-channel", "value"),
        State("wiring-known", "data"),
        State("check-way", "value"),
    )
    def _ways(channel: Any, known: Any, way: Any) -> Any:
        unit = next((c["unit"] for c in known or [] if c["id"] == channel), None)
        rows = [{"value": k, "label": label} for k, (label, u) in WAYS.items() if u == unit]
        ids = [row["value"] for row in rows]
        return rows, way if way in ids else next(iter(ids), None)

    @app.callback(
        Output("check-steps", "children"),
        Output("check-field-weight", "hidden"),
        Output("check-field-pressure", "hidden"),
        Output("check-field-altitude", "hidden"),
        Input("check-way", "value"),
    )
    def _steps(way: Any) -> Any:
        steps = [html.Li(step) for step in (*STEPS[way], LAST)] if way in STEPS else []
        return steps, way != "weight", way != "boil", way != "boil"

    _register_run(app, links)


def _register_run(app: Dash, links: Links) -> None:
    @app.callback(
        Output("check-run", "data"),
        Output("check-says", "children"),
        Input("check-begin", "n_clicks"),
        State("check-channel", "value"),
        State("check-way", "value"),
        State("check-weight", "value"),
        State("check-pressure", "value"),
        State("check-altitude", "value"),
        prevent_initial_call=True,
    )
    def _begin(
        _clicks: Any, channel: Any, way: Any, weight: Any, pressure: Any, altitude: Any
    ) -> Any:
        asked = {"channel": channel, "way": way, "weight": weight, "pressure": pressure,
                 "altitude": altitude}  # fmt: skip
        return begin(links, asked)

    @app.callback(
        Output("check-run", "data", allow_duplicate=True),
        Output("check-says", "children", allow_duplicate=True),
        Input("wiring-beat", "n_intervals"),
        State("check-run", "data"),
        State("choices", "data"),
        prevent_initial_call=True,
    )
    def _look(_beat: Any, run: Any, choices: Any) -> Any:
        if (run or NONE)["stage"] != "reading":
            return no_update, no_update
        return look(links, run, Measures.of(choices))

    @app.callback(
        Output("check-begin", "disabled"),
        Output("check-stop", "disabled"),
        Output("check-write", "disabled"),
        Input("check-run", "data"),
    )
    def _buttons(run: Any) -> Any:
        stage = (run or NONE)["stage"]
        return stage == "reading", stage != "reading", stage != "found"

    @app.callback(
        Output("check-run", "data", allow_duplicate=True),
        Output("check-says", "children", allow_duplicate=True),
        Input("check-stop", "n_clicks"),
        prevent_initial_call=True,
    )
    def _stop(_clicks: Any) -> Any:
        _, says = sent(links, "run_end", {})
        return NONE, says or "Stopped. Nothing was changed."

    @app.callback(
        Output("check-run", "data", allow_duplicate=True),
        Output("check-says", "children", allow_duplicate=True),
        Input("check-write", "n_clicks"),
        State("check-run", "data"),
        prevent_initial_call=True,
    )
    def _write(_clicks: Any, run: Any) -> Any:
        answer, says = sent(links, "check_write", {"run": (run or {}).get("run", "")})
        return (NONE, answer["says"]) if answer else (no_update, says)


def sent(links: Links, do: str, data: dict[str, Any]) -> tuple[dict[str, Any] | None, str]:
    """Send a command; return its answer, or None and what to tell the person."""
    try:
        return links.send(do, data), ""
    except RefusedError as cause:
        return None, f"{str(cause)[:1].upper()}{str(cause)[1:]}."
    except GoneError:
        return None, "The recorder does not answer."


def begin(links: Links, asked: dict[str, Any]) -> tuple[Any, str]:
    """Have the recorder begin a check; return where it stands and what to tell the person."""
    if not asked["channel"] or not asked["way"]:
        return NONE, "Choose a sensor first."
    answer, says = sent(links, "check_begin", {k: v for k, v in asked.items() if v})
    if answer is None:
        return NONE, says
    now = {"stage": "reading", "channel": asked["channel"], **answer}
    return now, " ".join(t for t in (answer["how"], answer["remark"]) if t)


def look(links: Links, run: dict[str, Any], measures: Measures) -> tuple[Any, str]:
    """Return where a check stands and what to tell the person; ends it when its time is up."""
    state = links.state()
    if state is None:
        return no_update, "The recorder does not answer."
    if state["run"].get("id") == run["run"] and state["t_s"] < run["for_s"]:
        channel = next((c for c in state["channels"] if c["id"] == run["channel"]), None)
        shown = ""
        if channel is not None and channel["value"] is not None:
            shown = f" It shows {measures.value(channel['value'], channel['unit'])}."
        return no_update, f"Reading: {clock(state['t_s'])} of {clock(run['for_s'])}.{shown}"
    answer, says = sent(links, "check_end", {"run": run["run"]})
    if answer is None:
        return NONE, f"Not good enough to write down. {says}"
    return {**run, "stage": "found"}, f"{answer['says']}. Write it into the bench file?"

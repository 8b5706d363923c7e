"""A sensor checked at a known value, step by step: ice, boiling water, a check weight.

The recorder reads, judges and writes the correction; this draws where the check stands.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any, Literal, TypeVar

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html, no_update

from dashboard.answers import CheckBegun, Committed, Done
from dashboard.links import Links
from dashboard.measures import Measures
from dashboard.stores import Choices, decode, encode
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
        "Put a check weight on the middle of the plate. Do not touch anything.",
        "Enter the mass marked on the weight.",
    ),
}
"""Procedures step by step; common practice, no source."""

LAST = "Press Begin and leave it as it is for a minute: the readings are saved as a short run."
Answer = TypeVar("Answer")


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """A channel that can be checked."""

    id: str
    label: str
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """Where a check stands: the run it reads in, of which channel, and how long [s]."""

    stage: Literal["none", "reading", "found"] = "none"
    run: str = ""
    channel: str = ""
    for_s: float = 0.0


NONE = Check()


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a check is asked for with, as it was typed."""

    channel: str | None = None
    way: str | None = None
    weight: str | None = None
    pressure: str | None = None
    altitude: str | None = None


def layout() -> html.Section:
    """Return the section without data."""
    return html.Section(
        className="plate checking",
        children=[
            dcc.Store(id="check-run", storage_type="session", data=encode(NONE)),
            html.H2("Check a sensor"),
            html.Div(
                [
                    dmc.Select(
                        id="check-channel",
                        label="Sensor",
                        data=[],
                        size="lg",
                        allowDeselect=False,
                        className="filter",
                    ),
                    dmc.Select(
                        id="check-way",
                        label="Check at",
                        data=[],
                        size="lg",
                        allowDeselect=False,
                        className="filter",
                    ),
                    *_fields(),
                ],
                className="answers wrap at-foot",
            ),
            html.Div(
                [
                    html.Button("Begin", id="check-begin", type="button", className="key main"),
                    html.Button(
                        "Stop", id="check-stop", type="button", className="key", disabled=True
                    ),
                    html.Button(
                        "Save",
                        id="check-write",
                        type="button",
                        className="key",
                        disabled=True,
                    ),
                ],
                className="answers wrap",
            ),
            html.P(id="check-says", role="status", className="answer"),
            html.Ol(id="check-steps", className="steps"),
        ],
    )


def _fields() -> list[Any]:
    texts = (
        ("weight", "Mass on the weight", "1 kg"),
        ("pressure", "Station pressure", "98.2 kPa"),
        ("altitude", "or altitude", "340 m"),
    )
    return [
        html.Div(
            dmc.TextInput(id=f"check-{name}", label=label, placeholder=sample, size="lg"),
            id=f"check-field-{name}",
            hidden=True,
            className="filter",
        )
        for name, label, sample in texts
    ]


def register(app: Dash, links: Links) -> None:
    """Attach the section's callbacks to an app."""

    @app.callback(
        Output("check-channel", "data"),
        Output("check-channel", "value"),
        Input("wiring-known", "data"),
        State("check-channel", "value"),
    )
    def _channels(known: Any, chosen: Any) -> Any:
        rows = [{"value": c.id, "label": c.label} for c in _known(known)]
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
        unit = next((c.unit for c in _known(known) if c.id == channel), None)
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
        check, says = begin(
            links,
            Asked(channel=channel, way=way, weight=weight, pressure=pressure, altitude=altitude),
        )
        return encode(check), says

    @app.callback(
        Output("check-run", "data", allow_duplicate=True),
        Output("check-says", "children", allow_duplicate=True),
        Input("wiring-beat", "n_intervals"),
        State("check-run", "data"),
        State("choices", "data"),
        prevent_initial_call=True,
    )
    def _look(_beat: Any, run: Any, choices: Any) -> Any:
        check = _check(run)
        if check.stage != "reading":
            return no_update, no_update
        now, says = look(links, check, Choices.of(choices).measures)
        return no_update if now is check else encode(now), says

    @app.callback(
        Output("check-begin", "disabled"),
        Output("check-stop", "disabled"),
        Output("check-write", "disabled"),
        Input("check-run", "data"),
    )
    def _buttons(run: Any) -> Any:
        stage = _check(run).stage
        return stage == "reading", stage != "reading", stage != "found"

    @app.callback(
        Output("check-run", "data", allow_duplicate=True),
        Output("check-says", "children", allow_duplicate=True),
        Input("check-stop", "n_clicks"),
        prevent_initial_call=True,
    )
    def _stop(_clicks: Any) -> Any:
        _, says = sent(links, "run_end", {}, Committed)
        return encode(NONE), says or "Stopped. Nothing was changed."

    @app.callback(
        Output("check-run", "data", allow_duplicate=True),
        Output("check-says", "children", allow_duplicate=True),
        Input("check-write", "n_clicks"),
        State("check-run", "data"),
        prevent_initial_call=True,
    )
    def _write(_clicks: Any, run: Any) -> Any:
        answer, says = sent(links, "check_write", {"run": _check(run).run}, Done)
        return (encode(NONE), answer.says) if answer else (no_update, says)


def _known(data: object) -> list[Known]:
    return decode(list[Known], data) or []


def _check(data: object) -> Check:
    return decode(Check, data) or NONE


def sent(
    links: Links, do: str, about: Mapping[str, object], answer: type[Answer]
) -> tuple[Answer | None, str]:
    """Send a command; return its answer, or None and what to tell the person.

    Parameters
    ----------
    links : Links
        The way to the recorder.
    do : str
        The command.
    about : mapping
        What it is about.
    answer : type
        Record of ``dashboard.answers`` that the answer is.
    """
    try:
        return links.send(do, about, answer), ""
    except RefusedError as cause:
        return None, f"{str(cause)[:1].upper()}{str(cause)[1:]}."
    except GoneError:
        return None, "The recorder does not answer."


def begin(links: Links, asked: Asked) -> tuple[Check, str]:
    """Have the recorder begin a check; return where it stands and what to tell the person."""
    if not asked.channel or not asked.way:
        return NONE, "Choose a sensor first."
    typed = {k: v for k, v in asdict(asked).items() if v}
    answer, says = sent(links, "check_begin", typed, CheckBegun)
    if answer is None:
        return NONE, says
    check = Check(stage="reading", run=answer.run, channel=asked.channel, for_s=answer.for_s)
    return check, " ".join(t for t in (answer.how, answer.remark) if t)


def look(links: Links, check: Check, measures: Measures) -> tuple[Check, str]:
    """Return where a check stands and what to tell the person; ends it when its time is up.

    Parameters
    ----------
    links : Links
        The way to the recorder.
    check : Check
        Where it stood.
    measures : Measures
        How numbers are written.
    """
    state = links.state()
    if state is None:
        return check, "The recorder does not answer."
    if state.run.id == check.run and state.t_s < check.for_s:
        channel = next((c for c in state.channels if c.id == check.channel), None)
        shown = ""
        if channel is not None and channel.value is not None:
            shown = f" It shows {measures.value(channel.value, channel.unit)}."
        return check, f"Reading: {clock(state.t_s)} of {clock(check.for_s)}.{shown}"
    answer, says = sent(links, "check_end", {"run": check.run}, Done)
    if answer is None:
        return NONE, f"Not good enough to save. {says}"
    return replace(check, stage="found"), f"{answer.says}. Save it in the bench file?"

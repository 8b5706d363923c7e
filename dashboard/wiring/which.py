"""Which probe is which: warm one, and the channel that moves is offered for the role.

Who moved is ``logger.review.mover``'s; the recorder writes the role into the bench file.
"""

from collections.abc import Collection
from dataclasses import asdict, dataclass, replace
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, ctx, dcc, html, no_update

from dashboard.answers import Done
from dashboard.links import Links
from dashboard.measures import Measures
from dashboard.stores import Choices, decode, encode
from dashboard.wiring.answering import FIRST, WHY, is_answered, probe_fields, scale_fields
from logger.control.client import GoneError, RefusedError
from logger.control.sensor_answer import DONT_KNOW
from logger.model.bench import ROLE_LABELS, SCALE_ROLES, Bench
from logger.model.state import State as RunState
from logger.review.mover import mover

ROLES = [{"value": r, "label": t} for r, t in ROLE_LABELS.items() if r != "other"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A channel that moved, and the role that it is offered for."""

    channel: str
    role: str
    sensor_type: str = ""
    """Type, class and size as answered; empty leaves the sensor as it is."""
    sensor_class: str = ""
    sensor_size: str = ""


def layout() -> html.Section:
    """Return the section without data."""
    return html.Section(
        className="plate which",
        children=[
            dcc.Store(id="which-base"),
            dcc.Store(id="which-found"),
            html.H2("Which is which"),
            html.Div(
                [
                    dmc.Select(
                        id="which-role",
                        label="Sensor to find",
                        data=ROLES,
                        value="fat",
                        size="lg",
                        allowDeselect=False,
                        className="filter",
                    ),
                    html.Button("Listen", id="which-listen", type="button", className="key"),
                    html.Button(
                        "Save",
                        id="which-take",
                        type="button",
                        className="key",
                        disabled=True,
                    ),
                ],
                className="answers wrap at-foot",
            ),
            html.P(id="which-how", className="soft"),
            html.P(id="which-says", role="status", className="answer"),
            html.Div(probe_fields("which"), id="which-probe", className="answers wrap at-foot"),
            html.Div(
                scale_fields("which"),
                id="which-plate",
                hidden=True,
                className="answers wrap at-foot",
            ),
            html.P(WHY, className="hint"),
        ],
    )


def register(app: Dash, links: Links) -> None:
    """Attach the section's callbacks to an app."""

    @app.callback(
        Output("which-how", "children"),
        Output("which-probe", "hidden"),
        Output("which-plate", "hidden"),
        Input("which-role", "value"),
    )
    def _how(role: Any) -> Any:
        scale = role in SCALE_ROLES
        return how(str(role)), scale, not scale

    @app.callback(
        Output("which-base", "data"),
        Output("which-found", "data"),
        Output("which-says", "children"),
        Output("which-take", "disabled"),
        Input("which-listen", "n_clicks"),
        Input("which-role", "value"),
        prevent_initial_call=True,
    )
    def _listen(_clicks: Any, _role: Any) -> Any:
        state = links.state() if ctx.triggered_id == "which-listen" else None
        if state is None:
            return None, None, "", True
        base = live_values(state)
        return base, None, nothing_moves(state, base), True

    @app.callback(
        Output("which-says", "children", allow_duplicate=True),
        Output("which-base", "data", allow_duplicate=True),
        Output("which-found", "data", allow_duplicate=True),
        Output("which-take", "disabled", allow_duplicate=True),
        Input("wiring-beat", "n_intervals"),
        State("which-base", "data"),
        State("which-found", "data"),
        State("which-role", "value"),
        State("choices", "data"),
        prevent_initial_call=True,
    )
    def _look(_beat: Any, base: Any, found: Any, role: Any, choices: Any) -> Any:
        state = links.state() if base is not None and not found else None
        if state is None:
            return (no_update,) * 4
        # A channel that was away when listening began counts from when it is there.
        base = {**live_values(state), **base}
        measures, unknown = Choices.of(choices).measures, unknown_sensors(links.bench())
        says, channel, new = look(state, base, str(role), measures, unknown)
        wanted = encode(Wanted(channel=channel, role=role)) if channel else None
        return says, base, wanted, not new

    @app.callback(
        Output("which-says", "children", allow_duplicate=True),
        Output("which-base", "data", allow_duplicate=True),
        Output("which-take", "disabled", allow_duplicate=True),
        Input("which-take", "n_clicks"),
        State("which-found", "data"),
        State("which-type", "value"),
        State("which-class", "value"),
        State("which-accuracy", "value"),
        State("which-scale", "value"),
        State("which-interval", "value"),
        prevent_initial_call=True,
    )
    def _take(
        _clicks: Any, found: Any, type_: Any, class_: Any, accuracy: Any, scale: Any, interval: Any
    ) -> Any:
        wanted = decode(Wanted, found)
        if wanted is None:
            return no_update, None, True
        if wanted.role in SCALE_ROLES:
            type_, class_, accuracy = None, scale, interval
        wanted = answered(wanted, type_, class_, accuracy)
        if not wanted.sensor_class and wanted.channel in unknown_sensors(links.bench()):
            return FIRST, no_update, False
        return take(links, wanted), None, True


def live_values(state: RunState) -> dict[str, float]:
    """Return the values of the live channels by their ids."""
    return {c.id: c.value for c in state.channels if c.status == "live" and c.value is not None}


def nothing_moves(state: RunState, base: dict[str, float]) -> str:
    """Say that nothing moves yet, and which sensors give no readings.

    Parameters
    ----------
    state : State
        The recorder's state.
    base : dict
        Values from which movement counts, by channel id [degC or g].
    """
    away = [c.label or c.id for c in state.channels if c.id not in base]
    if not away:
        return "Listening: nothing moves yet."
    return f"Listening: nothing moves yet. No readings from {', '.join(away)}."


def how(role: str) -> str:
    """Say what to do to find a channel."""
    label = ROLE_LABELS.get(role, role).lower()
    if role in SCALE_ROLES:
        return f"Press Listen, then press only on the {label} with your hand."
    probe = "room probe" if role == "room" else f"{label} probe"
    return f"Press Listen, then warm only the {probe} in your hand."


def unknown_sensors(bench: Bench | None) -> set[str]:
    """Return the ids of the channels of which nobody has said yet what their sensor is."""
    return {c.id for c in bench.channel if c.sensor is None} if bench is not None else set()


def answered(wanted: Wanted, type_: object, class_: object, size: object) -> Wanted:
    """Return what is wanted with the answers to what the sensor is; unchanged without them.

    Parameters
    ----------
    wanted : Wanted
        Channel and role.
    type_, class_, size : object
        As the fields have them; None where nothing was chosen.
    """
    if wanted.role in SCALE_ROLES:
        type_ = ""
        done = bool(class_)
    else:
        done = is_answered(type_, class_, size)
    if not done:
        return wanted
    return replace(
        wanted,
        sensor_type=str(type_),
        sensor_class=str(class_ or DONT_KNOW),
        sensor_size=str(size or ""),
    )


def look(
    state: RunState,
    base: dict[str, float],
    role: str,
    measures: Measures,
    unknown: Collection[str] = (),
) -> tuple[str, str | None, bool]:
    """Say what moved; return the sentence, the channel, and whether there is a role to write.

    Parameters
    ----------
    state : State
        The recorder's state.
    base : dict
        Values when listening began, by channel id [degC or g].
    role : str
        Role that is looked for.
    measures : Measures
        How numbers are written.
    unknown : collection of str
        Ids of the channels of which nobody has said yet what their sensor is.
    """
    unit = "g" if role in SCALE_ROLES else "degC"
    names = {c.id: c.label or c.id for c in state.channels}
    found = mover(base, state.channels, unit)
    if found.rivals:
        one, other = (names[i] for i in found.rivals)
        return f"{one} and {other} move together. Move one alone, and listen again.", None, False
    if found.channel is None:
        return nothing_moves(state, base), None, False
    step = measures.value(abs(found.change), "K" if unit == "degC" else "g")
    has = next(c.role for c in state.channels if c.id == found.channel)
    says = f"{found.channel} moved by {step}."
    if has == role and found.channel in unknown:
        return f"{says} It is {ROLE_LABELS[role]}. Save what it is?", found.channel, True
    if has == role:
        return f"{says} It is {ROLE_LABELS[role]} already.", found.channel, False
    return (
        f"{says} It was called {names[found.channel]}. Save it as {ROLE_LABELS[role]}?",
        found.channel,
        True,
    )


def take(links: Links, wanted: Wanted) -> str:
    """Have the recorder write a role down; return what to tell the person."""
    try:
        return links.send("set_role", asdict(wanted), Done).says
    except RefusedError as cause:
        return f"Not saved. {cause}"
    except GoneError:
        return "Not saved: the recorder does not answer."

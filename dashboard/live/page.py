"""The page at the bench, its beat and its callbacks.

One question a beat: the browser asks when the answer before it has come (``assets/bench.js``), and
is answered with what changed, and only with that, on a route of its own. Buttons carry their
command in their attributes; one callback sends it to the recorder and says what came of it.
"""

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import flask
from dash import ClientsideFunction, Dash, Input, Output, no_update

from dashboard.doors.payloads import BEAT
from dashboard.graphs import Figure
from dashboard.links import Links
from dashboard.live import board, dialogs, health, numbers, rail, sentence, table, trouble
from dashboard.live.commands import Command, carry_out
from dashboard.live.controls import draw_controls
from dashboard.live.drawing import strip, view
from dashboard.live.drawing.strip import Cursor, Extend
from dashboard.live.drawing.view import Ask
from dashboard.live.feed import Feed
from dashboard.markup import json_of
from dashboard.measures import Measures, in_units
from dashboard.runs.told import Told
from dashboard.stores import Choices, decode, encode
from logger.model.errors import BainlogError
from logger.model.event import Event
from logger.model.state import State as RunState

SELDOM = {"now-health": 5, "now-batch": 5, "now-table": 25}
"""Parts that are redrawn only on every n-th question: they change at each sample, and the table of
the sensors is folded as a rule. The ages in it are counted in the browser."""


def register(app: Dash, links: Links) -> None:
    """Attach the page's beat and callbacks to an app."""
    _answer_beats(app.server, links)
    app.clientside_callback(ClientsideFunction("bench", "said"), Input("said", "data"))

    @app.callback(Output("said", "data"), Input("command", "data"), prevent_initial_call=True)
    def _command(command: Any) -> Any:
        if command is None:
            return no_update
        return encode(carry_out(links, decode(Command, command) or Command()))

    dialogs.register(app, links)


def _answer_beats(server: flask.Flask, links: Links) -> None:
    feed = Feed(links.open_run)

    @server.post(BEAT)
    def _beat() -> flask.Response:
        asked = flask.request.get_json(silent=True)
        if not isinstance(asked, dict):
            raise TypeError("a question is a JSON object")
        made = answer(
            links,
            feed,
            decode(Ask, asked.get("ask")) or Ask(),
            decode(Known, asked.get("known")) or Known(),
            Choices.of(asked.get("choices")),
        )
        return flask.Response(json_of(made._asdict()), mimetype="application/json")


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What an open page has: kept by the page, handed back at each question.

    Attributes
    ----------
    strip : Cursor
        Of the strip of traces.
    parts : dict
        Mark of each drawn part by its id.
    looks : str
        What makes even a part that is seldom drawn be drawn at once.
    """

    strip: Cursor = field(default_factory=Cursor)
    parts: dict[str, str] = field(default_factory=dict)
    looks: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Heartbeat:
    """What the browser is told beside the parts (``assets/bench.js``).

    Attributes
    ----------
    n : int or None
        Number of the question.
    gone : bool
        Whether no recorder answers.
    phase : str
        ``idle``, ``recording``, ``ended`` or ``gone``.
    t_s : float or None
        Run time [s].
    speed : float
        Of the recorder's clock [1].
    seen : dict
        Time of the last reading by channel id [s].
    about : str
        What is made: sheet and revision; empty between batches.
    trouble : str
        Why the traces can't be drawn.
    """

    n: int | None = None
    gone: bool = True
    phase: str = "gone"
    t_s: float | None = None
    speed: float = 1.0
    seen: dict[str, float | None] = field(default_factory=dict)
    about: str = ""
    trouble: str = ""


class Answer(NamedTuple):
    """What a page is sent: the strip's figure or points, what it has then, what it is told, and
    the parts that have changed by their id."""

    figure: Figure | None
    extend: Extend | None
    known: Known
    told: Heartbeat
    parts: dict[str, "Drawn"]


def answer(links: Links, feed: Feed, ask: Ask, known: Known, choices: Choices) -> Answer:
    """Return what a page must be sent.

    Parameters
    ----------
    links : Links
        The way to the recorder.
    feed : Feed
        Samples and events of the run under way.
    ask : Ask
        What the page asks.
    known : Known
        What the page has.
    choices : Choices
        What the person chose to see.
    """
    state = links.state()
    looks = _looks(state, choices)
    left_out = _left_out(known, looks, ask)
    shown = _shown(state, feed, ask, choices, lines="now-table" not in left_out)
    first = state is None and links.is_new()
    kept = state is None and links.is_kept()
    drawn = draw_parts(state, choices.measures, left_out, first=first, kept=kept, shown=shown)
    marks = {part: _mark(made) for part, made in drawn.items()}
    parts = {part: drawn[part] for part, mark in marks.items() if mark != known.parts.get(part)}
    stepped, trouble_text = _stepped(state, feed, ask, known.strip, choices)
    return Answer(
        figure=stepped.figure,
        extend=stepped.extend,
        known=Known(strip=stepped.cursor, parts=known.parts | marks, looks=looks),
        told=_told(state, ask, trouble_text),
        parts=parts,
    )


def _told(state: RunState | None, ask: Ask, trouble_text: str) -> Heartbeat:
    if state is None:
        return Heartbeat(n=ask.n, trouble=trouble_text)
    return Heartbeat(
        n=ask.n,
        gone=False,
        phase=state.phase,
        t_s=state.t_s,
        speed=state.recorder.clock_speed or 1.0,
        seen={c.id: c.t_s for c in state.channels},
        about=_about(state),
        trouble=trouble_text,
    )


def _about(state: RunState) -> str:
    """Return what is made: ``"Beet roll, revision 4"``."""
    if state.phase == "idle" or not state.run.sheet:
        return ""
    return f"{state.run.sheet}, revision {state.run.revision}"


Drawn = Any
"""A component of Dash, a list of them, or text."""


SAID = frozenset(
    {"now-sentence", "now-numbers", "now-alarms", "now-proposals", "now-board", "now-cautions"}
    | {"now-sensors", "now-health", "now-ports", "now-calm", "now-voice"}
)
"""Parts with sentences of the recorder, whose values are written in the units that were chosen."""


class Shown(NamedTuple):
    """What the strip shows: its lines and events."""

    lines: list[Told]
    events: list[Event]


def draw_parts(
    state: RunState | None,
    measures: Measures,
    left_out: frozenset[str] = frozenset(),
    *,
    first: bool = False,
    kept: bool = False,
    shown: Shown = Shown([], []),  # noqa: B008 - never changed
) -> dict[str, Drawn]:
    """Draw the parts of the page.

    Parameters
    ----------
    state : State or None
        The recorder's state; None when no recorder answers.
    measures : Measures
        How numbers are written.
    left_out : frozenset of str
        Ids of parts that are not drawn.
    first : bool
        Whether nothing was ever recorded here.
    kept : bool
        Whether a command looks after the recorder that does not answer.
    shown : Shown
        What the strip shows.

    Returns
    -------
    dict
        Components by the id of their part.
    """
    makers: dict[str, Callable[[], Any]] = {
        "now-sentence": lambda: sentence.draw_sentence(state, first=first, kept=kept),
        "now-numbers": lambda: numbers.draw_numbers(state, measures),
        "now-rail": lambda: rail.draw_rail(state),
        "now-alarms": lambda: trouble.draw_trouble(state),
        "now-proposals": lambda: trouble.draw_proposals(state),
        "now-board": lambda: board.draw_board(state),
        "now-cautions": lambda: sentence.draw_cautions(state),
        "now-sensors": lambda: health.draw_sensors(state),
        "now-health": lambda: health.draw_health(state, measures),
        "now-ports": lambda: health.draw_ports(state),
        "now-controls": lambda: draw_controls(state),
        "now-table": lambda: table.draw_table(state, measures, shown.lines, shown.events),
        "now-batch": lambda: rail.draw_batch(state),
        "now-calm": lambda: trouble.draw_calm(state, shown.events),
        "now-voice": lambda: " ".join(trouble.new_ones(state)),
    }
    drawn = {part: make() for part, make in makers.items() if part not in left_out}
    return {p: in_units(made, measures) if p in SAID else made for p, made in drawn.items()}


def _looks(state: RunState | None, choices: Choices) -> str:
    """What makes even a part that is seldom drawn be drawn at once."""
    status = [(c.id, c.status) for c in state.channels] if state else None
    return repr((status, choices.measures))


def _left_out(known: Known, looks: str, ask: Ask) -> frozenset[str]:
    """Return the parts that a page has well enough for now; a table that is folded is not drawn."""
    folded = frozenset() if ask.table else frozenset({"now-table"})
    if known.looks != looks or ask.n is None:
        return folded
    seldom = {part for part, every in SELDOM.items() if part in known.parts and ask.n % every}
    if ask.sensors:  # its numbers are those of the tiles at every moment
        seldom.discard("now-health")
    return folded | seldom


def _shown(state: RunState | None, feed: Feed, ask: Ask, choices: Choices, *, lines: bool) -> Shown:
    """Return the lines and events that the strip shows, as far as the run file can be read."""
    if state is None or state.phase == "idle" or state.run.id is None:
        return Shown([], [])
    channels = view.view_of(state, choices, ask).channels if lines else []
    try:
        events = feed.events(state.run.id)
        kept = feed.follow(state.run.id, [c.id for c in channels], state.tares) if lines else {}
    except (BainlogError, KeyError):
        return Shown([], [])
    return Shown([Told(c.label or c.id, kept[c.id].between(-1), c.unit) for c in channels], events)


def _stepped(
    state: RunState | None, feed: Feed, ask: Ask, before: Cursor, choices: Choices
) -> tuple[strip.Step, str]:
    """Return the strip's step; a run file that does not open must not take the page down."""
    if state is None:
        return strip.nothing(ask, before, choices), ""
    try:
        return strip.step(state, feed, ask, before, choices), ""
    except (BainlogError, KeyError) as cause:
        return strip.Step(None, None, before), f"The traces can't be read: {cause}"


def _mark(made: Any) -> str:
    """A short mark of a drawn part, to tell whether a page has it already."""
    return hashlib.blake2b(json_of(made), digest_size=6).hexdigest()

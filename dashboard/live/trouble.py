"""Alarms, and what the bench proposes: each with one tap to answer.

Pure: state in, components out. The states are those of ISA-18.2 and IEC 62682, said in plain words;
each is told by word and symbol beside its colour.
"""

import json
from collections.abc import Mapping
from typing import Any

from dash import html

from dashboard.live.sentence import symbol
from logger.model.event import Event
from logger.model.state import AlarmView, Proposal, State
from logger.words.counts import count_text
from logger.words.durations import clock, exact_duration

SHELVE_S = 300.0
"""How long one tap sets an alarm aside [s]."""
MANY_OVER = 2
"""From so many on, alarms that are over stand behind one line: what is asked must stay in sight."""
MOST_OVER = 20
"""The latest alarms that came and went are listed."""


def kind_of(alarm: AlarmView) -> str:
    """Return ``new``, ``seen``, ``over`` (it went away unseen), ``kept``, ``aside`` or ``none``.

    A state that is not known asks for attention like a new one.
    """
    return _KINDS.get(alarm.state, "new")


_KINDS = {
    "active unacknowledged": "new",
    "active acknowledged": "seen",
    "returned unacknowledged": "over",
    "latched": "kept",
    "shelved": "aside",
    "suppressed": "none",
    "out of service": "none",
    "normal": "none",
}
"""By the states of ISA-18.2 as the recorder names them."""
WORDS = {
    "new": ("stop", "Alarm"),
    "seen": ("warn", "Acknowledged, still active"),
    "over": ("warn", "Over now, not acknowledged"),
    "kept": ("warn", "Limit was crossed"),
    "aside": ("wait", "Set aside"),
}
_ORDER = {name: place for place, name in enumerate(WORDS)}


def draw_trouble(state: State | None) -> list[Any]:
    """Draw the alarms that are not normal, new ones first; several that are over, as one line."""
    alarms = [a for a in (state.alarms if state else []) if kind_of(a) != "none"]
    alarms.sort(key=lambda alarm: (_ORDER[kind_of(alarm)], alarm.since_s))
    over = [a for a in alarms if kind_of(a) == "over"]
    t_s = state.t_s if state else 0.0
    if len(over) < MANY_OVER:
        return [_alarm(alarm, t_s) for alarm in alarms]
    there = [_alarm(alarm, t_s) for alarm in alarms if kind_of(alarm) != "over"]
    return [*there, _folded([_alarm(alarm, t_s) for alarm in over])]


def _folded(over: list[html.Li]) -> html.Li:
    """Draw alarms that are over behind one line, which opens in its place."""
    look, word = WORDS["over"]
    line = [
        symbol(look),
        html.Span(f"{count_text(len(over), 'alarm')}: {word[0].lower()}{word[1:]}"),
    ]
    return html.Li(
        html.Details(
            [html.Summary(line, className="tone-word"), html.Ul(over, className="alarms")]
        ),
        className=f"alarm alarm-over look-{look}",
    )


def _alarm(alarm: AlarmView, t_s: float) -> html.Li:
    kind = kind_of(alarm)
    look, word = WORDS[kind]
    return html.Li(
        className=f"alarm alarm-{kind} look-{look}",
        children=[
            html.P(
                [symbol(look), html.Span(word), html.Span(_since(alarm, kind, t_s))],
                className="tone-word",
            ),
            html.P(alarm.text, className="alarm-text"),
            html.Div(_answers(alarm, kind), className="answers"),
        ],
        **{"data-sounds": "1" if alarm.sounds and kind == "new" else "0"},
    )


def _since(alarm: AlarmView, kind: str, t_s: float) -> str:
    if kind == "aside" and alarm.shelved_until_s is not None:
        return f" for {clock(alarm.shelved_until_s - t_s)} more"
    return f" since {clock(alarm.since_s)}"


def _answers(alarm: AlarmView, kind: str) -> list[html.Button]:
    about = {"alarm": alarm.id}
    if kind == "aside":
        return [answer("Bring back", "unshelve", about)]
    if kind == "kept":
        return [answer("Clear", "reset_latch", about)]
    given = []
    if kind in ("new", "over"):
        given.append(answer("Acknowledge", "ack", about))
    if kind in ("new", "seen"):
        given.append(
            answer(
                f"Set aside for {exact_duration(SHELVE_S)}", "shelve", {**about, "for_s": SHELVE_S}
            )
        )
    return given


def draw_calm(state: State | None, events: list[Event]) -> list[Any]:
    """Draw in one line that there is no alarm, and behind it those that came and went.

    Parameters
    ----------
    state : State or None
        The recorder's state.
    events : list of Event
        Of the run so far.
    """
    if state is None:
        return []
    there = sum(1 for alarm in state.alarms if kind_of(alarm) != "none")
    over = [e for e in events if e.kind == "alarm" and e.data.get("state") == "normal"]
    words = f"{count_text(there, 'alarm')} above" if there else "No alarms now"
    line = [symbol("ring"), html.Span(f" {words}")]
    if not over:
        return [html.P(html.Span(line), className="status-line")]
    rows = [html.Li(f"{clock(e.t_ns / 1e9)}  {e.text}") for e in reversed(over[-MOST_OVER:])]
    return [
        html.Details(
            [
                html.Summary([html.Span([*line, html.Small(f" {len(over)} cleared")])]),
                html.Ul(rows, className="status-rest"),
            ],
            className="status-fold",
        )
    ]


def draw_proposals(state: State | None) -> list[Any]:
    """Draw what the bench saw and a person may take or refuse."""
    proposals = state.proposals if state and state.phase == "recording" else []
    first = next((p for p in proposals if not p.taken), None)
    return [_proposal(proposal, main=proposal is first) for proposal in proposals]


def _proposal(proposal: Proposal, *, main: bool) -> html.Li:
    about = {"proposal": proposal.id}
    if proposal.taken:
        buttons = [answer("Take back", "decline", about)]
    else:
        buttons = [answer("Yes", "accept", about, main=main), answer("No", "decline", about)]
    return html.Li(
        className="proposal",
        children=[
            html.P(
                [symbol("ask"), html.Span("Done for you" if proposal.taken else "Is that right?")],
                className="tone-word",
            ),
            html.P(proposal.text, className="alarm-text"),
            html.Div(buttons, className="answers"),
        ],
    )


def answer(label: str, do: str, about: Mapping[str, object], *, main: bool = False) -> html.Button:
    """Return a button that sends a command when it is tapped.

    Parameters
    ----------
    label : str
        What stands on it.
    do : str
        The command.
    about : mapping
        What the command is about.
    main : bool
        Whether it is the answer to expect.
    """
    return html.Button(
        label,
        type="button",
        className="key small main" if main else "key small",
        **{"data-do": do, "data-about": json.dumps(about)},
    )


def new_ones(state: State | None) -> list[str]:
    """Return the texts of alarms that nobody has seen, for the voice of a screen reader."""
    return [a.text for a in (state.alarms if state else []) if kind_of(a) == "new"]

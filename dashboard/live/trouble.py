"""Alarms, and what the bench proposes: each with one tap to answer.

Pure: state in, components out. The states are those of ISA-18.2 and IEC 62682, said in plain words;
each is told by word and symbol beside its colour.
"""

import json
from typing import Any

from dash import html

from dashboard.live.sentence import symbol
from logger.words.durations import clock, exact_duration

SHELVE_S = 300.0
"""How long one tap sets an alarm aside [s]."""


def kind_of(alarm: dict[str, Any]) -> str:
    """Return ``new``, ``seen``, ``over`` (it went away unseen), ``kept``, ``aside`` or ``none``.

    The recorder's words for a state vary in length, not in order: the first word that fits counts.
    """
    state = str(alarm.get("state", "")).lower()
    if "shelved" in state:
        return "aside"
    if "latched" in state:
        return "kept"
    if "suppress" in state or "out of service" in state or state == "normal":
        return "none"
    seen = "unack" not in state and "ack" in state
    if "return" in state:
        return "over"
    return "seen" if seen else "new"


WORDS = {
    "new": ("stop", "Alarm"),
    "seen": ("warn", "Seen, still so"),
    "over": ("warn", "Was so, unseen"),
    "kept": ("warn", "Was crossed"),
    "aside": ("wait", "Set aside"),
}
_ORDER = {name: place for place, name in enumerate(WORDS)}


def draw_trouble(state: dict[str, Any] | None) -> list[Any]:
    """Draw the alarms that are not normal, new ones first."""
    alarms = [a for a in (state["alarms"] if state else []) if kind_of(a) != "none"]
    alarms.sort(key=lambda alarm: (_ORDER[kind_of(alarm)], alarm.get("since_s") or 0.0))
    return [_alarm(alarm, state["t_s"] if state else 0.0) for alarm in alarms]


def _alarm(alarm: dict[str, Any], t_s: float) -> html.Li:
    kind = kind_of(alarm)
    look, word = WORDS[kind]
    return html.Li(
        className=f"alarm alarm-{kind} look-{look}",
        children=[
            html.P(
                [symbol(look), html.Span(word), html.Span(_since(alarm, kind, t_s))],
                className="tone-word",
            ),
            html.P(alarm["text"], className="alarm-text"),
            html.Div(_answers(alarm, kind), className="answers"),
        ],
        **{"data-sounds": "1" if alarm.get("sounds") and kind == "new" else "0"},
    )


def _since(alarm: dict[str, Any], kind: str, t_s: float) -> str:
    if kind == "aside" and alarm.get("shelved_until_s") is not None:
        return f" for {clock(alarm['shelved_until_s'] - t_s)} more"
    if alarm.get("since_s") is None:
        return ""
    return f" since {clock(alarm['since_s'])}"


def _answers(alarm: dict[str, Any], kind: str) -> list[html.Button]:
    about = {"alarm": alarm["id"]}
    if kind == "aside":
        return [answer("Bring back", "unshelve", about)]
    if kind == "kept":
        return [answer("Clear", "reset_latch", about)]
    given = []
    if kind in ("new", "over"):
        given.append(answer("Acknowledge", "ack", about, main=True))
    if kind in ("new", "seen"):
        given.append(
            answer(
                f"Set aside for {exact_duration(SHELVE_S)}", "shelve", {**about, "for_s": SHELVE_S}
            )
        )
    return given


def draw_proposals(state: dict[str, Any] | None) -> list[Any]:
    """Draw what the bench saw and a person may take or refuse."""
    proposals = state["proposals"] if state and state["phase"] == "recording" else []
    return [_proposal(proposal) for proposal in proposals]


def _proposal(proposal: dict[str, Any]) -> html.Li:
    about = {"proposal": proposal["id"]}
    if proposal["taken"]:
        buttons = [answer("Take back", "decline", about)]
    else:
        buttons = [answer("Yes", "accept", about, main=True), answer("No", "decline", about)]
    return html.Li(
        className="proposal",
        children=[
            html.P(
                [symbol("ask"), html.Span("Done for you" if proposal["taken"] else "Is that so?")],
                className="tone-word",
            ),
            html.P(proposal["text"], className="alarm-text"),
            html.Div(buttons, className="answers"),
        ],
    )


def answer(label: str, do: str, about: dict[str, Any], *, main: bool = False) -> html.Button:
    """Return a button that sends a command when it is tapped."""
    return html.Button(
        label,
        type="button",
        className="key small main" if main else "key small",
        **{"data-do": do, "data-about": json.dumps(about)},
    )


def new_ones(state: dict[str, Any] | None) -> list[str]:
    """Return the texts of alarms that nobody has seen, for the voice of a screen reader."""
    return [a["text"] for a in (state["alarms"] if state else []) if kind_of(a) == "new"]

"""The one sentence of what to do now, what stands behind it, and the stage's cautions.

Pure: state in, components out. The tone is told by a word and a symbol beside its colour.
"""

from typing import Any

from dash import html

from logger.model.kinds.registry import kind_named
from logger.model.rows import GoOnRow
from logger.model.state import State
from logger.words.durations import duration_text

TONES = {
    "calm": "All steady",
    "do": "Do this now",
    "wait": "Wait",
    "warn": "Take care",
    "stop": "Stop",
}
"""The word for each tone of a stage's view."""

FIRST = (
    "calm",
    "Nothing is plugged in yet.",
    [
        "To look around first, play a batch on the virtual bench: bainlog demo",
        "With probes and scales plugged in: bainlog ports --write, then bainlog start. "
        "This page then goes live.",
    ],
)
"""What a newcomer reads: tone, sentence, and how to begin."""

BARE = (
    "calm",
    FIRST[1],
    ["Look around on the virtual bench first, or plug in your probes and scales."],
)
"""The same where a recorder runs, which can be told to do either."""

TAKEN_OVER = (
    "wait",
    "The recorder does not answer.",
    [
        "bainlog start waits for it, or starts another one in its place: there is nothing to do.",
        "The batch then goes on; what is not recorded until then stays a gap.",
    ],
)
"""The same where a command sees to it that there is a recorder."""

OPEN_IT = "Record how it came out while you remember: open it under Runs."

BEGINS_S = 10.0
"""A batch without a stage is starting for so long at most [s]; the engine is 0.3 s behind, and the
clock of a virtual bench may be fast."""

AT_ONCE, ABOVE_PIECES = 2, 1
"""Further sentences that stand under the sentence, and where pieces stand below it; the rest opens
with a tap."""


def symbol(name: str) -> html.Span:
    """Return a small picture drawn by the style sheet; the word stands beside it."""
    return html.Span(className=f"sym sym-{name}", **{"aria-hidden": "true"})


def draw_sentence(state: State | None, *, first: bool = False, kept: bool = False) -> list[Any]:
    """Draw the sentence; `state` is None when no recorder answers.

    Parameters
    ----------
    state : State or None
        The recorder's state.
    first : bool
        Nothing was ever recorded here: a newcomer is told how to begin.
    kept : bool
        A command looks after the recorder, and starts another one where that was killed.
    """
    bare = state is not None and state.phase == "idle" and not state.channels
    tone, say, more = what_to_say(state)
    if state is None and (first or kept):
        tone, say, more = FIRST if first else TAKEN_OVER
    idle = first or (state is not None and state.phase != "recording")
    at_once = ABOVE_PIECES if state is not None and state.view.board else AT_ONCE
    word = "Not recording" if idle else "Not connected" if state is None else TONES[tone]
    return [
        html.Div(
            className=f"sentence tone-{tone}",
            children=[
                html.Div([symbol(tone), html.Span(word)], className="tone-word"),
                html.P(say, className=f"say say-{_length(say)}"),
                html.Ul([html.Li(text) for text in more[:at_once]], className="more")
                if more
                else None,
                html.Details(
                    [
                        html.Summary("More"),
                        html.Ul([html.Li(text) for text in more[at_once:]], className="more"),
                    ],
                    className="more-rest",
                )
                if len(more) > at_once
                else None,
                html.A("Show me how", href="/instruments", className="key small main")
                if bare
                else None,
            ],
            **{"data-tone": tone},
        )
    ]


def _length(say: str) -> str:
    """How long a sentence is, for the size of its letters."""
    return "short" if len(say) <= 34 else "middle" if len(say) <= 80 else "long"


def what_to_say(state: State | None) -> tuple[str, str, list[str]]:
    """Return (tone, sentence, further sentences) for any state."""
    if state is None:
        return (
            "stop",
            "The recorder does not answer.",
            [
                "Nothing new is being recorded, as far as this screen can tell.",
                "What was recorded before is kept. Start it again with: bainlog start",
            ],
        )
    if state.phase == "idle" and not state.channels:
        return BARE
    if state.phase == "idle" and state.go_on is not None and state.go_on.interrupted:
        return "do", f"Go on with the batch of {state.go_on.at}?", _cut_off(state.go_on)
    if state.phase == "idle":
        left = "" if state.go_on is None else f" Or Go on with the batch of {state.go_on.at}."
        return (
            "calm",
            "Ready when you are.",
            [f"Press Start batch and pick a sheet.{left}", "The sensors are live already."],
        )
    if state.phase == "ended":
        return "calm", "This batch is finished and saved.", [OPEN_IT]
    if is_beginning(state):
        return "wait", "The batch is starting.", []
    view = state.view
    if state.working_out:
        view.more = ["Working the run out again with your correction…", *view.more]
    say = view.say or "This stage has no rule for its end. Press Next stage when it is done."
    return view.tone, say, list(view.more)


def is_beginning(state: State) -> bool:
    """Whether a batch has just been started, and its first stage comes with the first readings."""
    begun = any(stage.start_s is not None for stage in state.stages)
    fresh = state.t_s < BEGINS_S and not state.acts
    return state.phase == "recording" and bool(state.stages) and not begun and fresh


def _cut_off(left: GoOnRow) -> list[str]:
    """Return what is known of a batch that was cut off."""
    where = f" in {left.stage}" if left.stage else ""
    return [
        f"{left.sheet}: it was interrupted{where} after {duration_text(left.t_s)}.",
        "It goes on where it was; the time between stays a gap. Or start another batch.",
    ]


def draw_cautions(state: State | None) -> list[Any]:
    """Draw what can hurt in this stage in one line, the cautions behind it."""
    texts = state.view.cautions if state else []
    if not texts or state is None or state.phase != "recording":
        return []
    kind = kind_named(next((s.kind for s in state.stages if s.id == state.stage), ""))
    line = kind.hazard if kind is not None and kind.hazard else "Caution"
    return [
        html.Details(
            [
                html.Summary(
                    html.Span([symbol("warn"), html.Span(f" {line}")], className="look-warn")
                ),
                html.Ul([html.Li(text) for text in texts], className="status-rest"),
            ],
            className="status-fold cautions",
        )
    ]

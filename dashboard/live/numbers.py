"""The two or three numbers that matter in this stage, large enough to read from two metres.

Pure: state in, components out. A verdict is told by a word and a symbol beside its colour.
"""

from typing import Any

from dash import html

from dashboard.live.sentence import symbol
from dashboard.measures import Measures
from logger.model.state import Number, State
from logger.words.durations import about, clock
from logger.words.verdicts import (
    FOR_INFORMATION,
    NOT_THERE_YET,
    UNCERTAINTY_UNKNOWN,
    verdict_text,
)

MOST = 4
"""No more tiles than this on one screen."""

VERDICTS = {
    "met": ("good", "on target"),
    "undecided": ("warn", verdict_text("undecided")),
    "no limit": ("none", verdict_text("no limit")),
    "not measured": ("none", "not measured"),
}
"""Look and word of a verdict; the word stands before the band."""
UNDER_WAY = ("ring", NOT_THERE_YET)
"""Of a number that is only going up to its band: there is nothing to be unsure about yet."""


def draw_numbers(state: State | None, measures: Measures) -> list[Any]:
    """Draw the numbers; an empty list when there are none to trust."""
    if state is None:
        return []
    numbers = state.view.numbers[:MOST] if state.phase == "recording" else []
    crowded = state.alarms or state.proposals
    small = len(numbers) > 2 or (len(numbers) == 2 and bool(crowded))
    return [_tile(number, state, measures, small=small) for number in numbers]


def _tile(number: Number, state: State, measures: Measures, *, small: bool) -> html.Div:
    look, word = _verdict(number, state)
    if number.assumed and number.verdict != "not measured":
        word = f"{word} (assumed)"
    below = _below(number, word, measures)
    if look == UNDER_WAY[0] and below and number.left_s is not None:
        below = f"{below}; {_left(number)}"
    return html.Div(
        className=f"tile look-{look} is-small" if small else f"tile look-{look}",
        children=[
            html.H3(number.label, className="tile-label"),
            html.P(_value(number, measures), className="tile-value"),
            html.P([symbol(look), html.Span(below)] if below else None, className="tile-verdict"),
        ],
    )


def _verdict(number: Number, state: State) -> tuple[str, str]:
    """Return look and word; a value below its band has no alarm while its stage is under way."""
    if number.low is None and number.high is None and number.verdict != "not measured":
        return VERDICTS["no limit"]
    if number.verdict == "undecided" and number.u_expanded is None:
        return VERDICTS["undecided"][0], UNCERTAINTY_UNKNOWN
    if is_on_its_way(number, state):
        return UNDER_WAY
    if number.verdict == "not met":
        return ("warn", "below target") if _is_below(number) else ("stop", "above target")
    return VERDICTS.get(number.verdict, ("none", number.verdict))


def is_on_its_way(number: Number, state: State) -> bool:
    """Whether a number has not reached its band yet, in a stage that goes as it should.

    Parameters
    ----------
    number : Number
        The number.
    state : State
        The recorder's state; a sentence that warns is about a number that leaves its band.
    """
    if number.verdict == "undecided":
        still = number.value is not None and bool(number.text)  # such as: still pouring
        return still or _surely_below(number)
    drifts = state.view.tone in ("warn", "stop")
    return number.verdict == "not met" and _is_below(number) and not drifts


def _left(number: Number) -> str:
    """Say how long until a number reaches its band."""
    if number.unit == "s":
        return f"{clock(number.left_s)} to go"
    return f"about {about(number.left_s)} at this rate"


def _is_below(number: Number) -> bool:
    value, low = number.value, number.low
    return value is not None and low is not None and value < low


def _surely_below(number: Number) -> bool:
    value, low = number.value, number.low
    if value is None or low is None or number.u_expanded is None:
        return False
    return value + number.u_expanded < low


def _value(number: Number, measures: Measures) -> list[Any]:
    if number.value is None:
        return [html.Span(number.text or "not measured", className="words")]
    unit = measures.unit(number.unit)
    spread = measures.spread(number.u_expanded, number.unit)
    shown = "" if number.unit == "s" else unit
    text = measures.text(number.value, number.unit, number.u_expanded)
    return [
        html.Span(text, className="big"),
        html.Span([html.Span(spread), html.Span(shown)], className="spread"),
    ]


def _below(number: Number, word: str, measures: Measures) -> str:
    band = measures.band(number.low, number.high, number.unit)
    if number.value is not None and number.text:
        return number.text
    if not band:
        return "" if number.verdict == "not measured" else FOR_INFORMATION
    return f"{word}, {band}" if number.verdict != "not measured" else f"target {band}"

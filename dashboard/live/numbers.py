"""The two or three numbers that matter in this stage, large enough to read from two metres.

Pure: state in, components out. A verdict is told by a word and a symbol beside its colour.
"""

from typing import Any

from dash import html

from dashboard.live.sentence import symbol
from dashboard.measures import Measures
from logger.model.state import Number, State
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
    "not met": ("stop", "not met"),
    "undecided": ("warn", verdict_text("undecided")),
    "no limit": ("none", verdict_text("no limit")),
    "not measured": ("none", "not measured"),
}
"""Look and word of a verdict; the word stands before the band."""
UNDER_WAY = ("ask", NOT_THERE_YET)
"""Of a number that is only going up to its band: there is nothing to be unsure about yet."""


def draw_numbers(state: State | None, measures: Measures) -> list[Any]:
    """Draw the numbers; an empty list when there are none to trust."""
    if state is None:
        return []
    numbers = state.view.numbers if state.phase == "recording" else []
    return [_tile(number, measures) for number in numbers[:MOST]]


def _tile(number: Number, measures: Measures) -> html.Div:
    look, word = VERDICTS.get(number.verdict, ("none", number.verdict))
    if number.verdict == "undecided" and number.u_expanded is None:
        word = UNCERTAINTY_UNKNOWN
    elif number.verdict == "undecided" and _surely_below(number):
        look, word = UNDER_WAY
    elif number.verdict == "not met":
        word = "below target" if _is_below(number) else "above target"
    if number.assumed and number.verdict != "not measured":
        word = f"{word} (assumed)"
    below = _below(number, word, measures)
    return html.Div(
        className=f"tile look-{look}",
        children=[
            html.H3(number.label, className="tile-label"),
            html.P(_value(number, measures), className="tile-value"),
            html.P([symbol(look), html.Span(below)] if below else None, className="tile-verdict"),
        ],
    )


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

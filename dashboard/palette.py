"""Colours of ground, tone and trace.

Pure. Used by the figures; the style sheet repeats the ground and tone colours, and a test holds the
two together. The hues of traces are vermilion, blue, purple and green of Okabe and Ito, which
people with any colour vision can tell apart, shifted in lightness alone; the core has the ink, the
room a grey of the ground. Each trace also has a dash pattern and its name.

References
----------
Okabe M., Ito K., "Color Universal Design (CUD)", 2008, table of eight colours.
"""

from dataclasses import dataclass
from typing import Literal

from logger.review.papers.figures import COLOURS

Theme = Literal["dark", "light"]
CLEAR = "rgba(0,0,0,0)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """Colours of one theme, as ``#rrggbb``."""

    ground: str
    plate: str
    line: str
    ink: str
    soft: str
    accent: str
    on_accent: str
    warn: str
    stop: str
    good: str


GROUNDS: dict[Theme, Ground] = {
    "dark": Ground(
        ground="#16130f",
        plate="#211c16",
        line="#857866",
        ink="#f7efe3",
        soft="#cfc4b3",
        accent="#ff9dbd",
        on_accent="#33061a",
        warn="#f5c451",
        stop="#ff8a7d",
        good="#9fd8a4",
    ),
    "light": Ground(
        ground="#f3ebde",
        plate="#fffaf2",
        line="#86775f",
        ink="#1e1812",
        soft="#554838",
        accent="#8b1545",
        on_accent="#fff6f9",
        warn="#7a4e00",
        stop="#a4260c",
        good="#1d5c33",
    ),
}

_DARK_TRACES = {
    "fat": "#f0813a",
    "water": "#56b4e9",
    "emulsion": "#d98bb5",
    "bath": "#2bbd92",
    "core": "#f7efe3",
    "room": "#a89a86",
    "bowl_scale": "#d98bb5",
    "bath_scale": "#2bbd92",
    "bench_scale": "#f7efe3",
    "other": "#f7efe3",
}
TRACES: dict[Theme, dict[str, str]] = {"dark": _DARK_TRACES, "light": COLOURS}
"""By role; one hue a sensor in both themes and in reports, which take the light set."""

DASHES = {
    "fat": "solid",
    "water": "6px,3px",
    "emulsion": "10px,3px,2px,3px",
    "bath": "2px,3px",
    "core": "12px,4px",
    "room": "1px,5px",
}
"""Dash pattern by role; a role that is not named is solid."""


def trace_colour(role: str, theme: Theme) -> str:
    """Return the colour of a trace by the role of its channel."""
    return TRACES[theme].get(role, TRACES[theme]["other"])


def see_through(colour: str, share: float) -> str:
    """Return ``rgba(...)`` of a colour that covers `share` [1] of what is behind it."""
    red, green, blue = (int(colour[place : place + 2], 16) for place in (1, 3, 5))
    return f"rgba({red},{green},{blue},{share:g})"

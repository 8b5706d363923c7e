"""The frame around each page: name, places to go, and what a person chose to see and hear.

The choices (theme, units, keys, sound) are kept in the browser alone. A page is found by its path
in a fixed table; anything else gets a page that says so.
"""

import re
from collections.abc import Callable
from typing import Any, NamedTuple

import dash_mantine_components as dmc
from dash import ClientsideFunction, Dash, Input, Output, State, dcc, html

from dashboard.help import panel
from dashboard.palette import GROUNDS


class Place(NamedTuple):
    """One page: where it is and what draws it."""

    path: str
    """A path, or a pattern of one with groups that are handed to `layout`."""
    name: str
    """In the menu; empty for a page that is only reached from another."""
    layout: Callable[..., Any]


def layout(places: list[Place]) -> dmc.MantineProvider:
    """Return the frame."""
    return dmc.MantineProvider(
        id="frame",
        theme=_theme(),
        forceColorScheme="dark",
        children=[
            dcc.Location(id="where"),
            dcc.Store(id="choices", storage_type="local", data={}),
            dcc.Store(id="chosen"),
            dcc.Store(id="picked", storage_type="session"),
            dcc.Store(id="narrow"),
            html.A("Skip to the page", href="#page", className="skip"),
            html.Header(
                className="head",
                children=[
                    html.A(
                        [html.Span("bain", className="name-a"), html.Span("log")],
                        href="/",
                        className="name",
                        **{"aria-label": "bainlog, at the bench"},
                    ),
                    html.Nav(
                        [
                            dcc.Link(
                                place.name,
                                href=place.path,
                                className="place",
                                id={"place": place.path},
                            )
                            for place in places
                            if place.name
                        ],
                        **{"aria-label": "Pages"},
                    ),
                    html.Span(id="head-run", className="head-run"),
                    html.Details(
                        [
                            html.Summary("Settings", className="key small"),
                            html.Div(
                                _choices(),
                                className="menu-rest choices",
                                role="group",
                                **{"aria-label": "Display and sound"},
                            ),
                        ],
                        id="settings",
                        className="menu",
                    ),
                    panel.draw_mark(),
                ],
            ),
            html.Main(id="page", tabIndex=-1),
            panel.draw_dialog(),
        ],
    )


def _choices() -> list[Any]:
    return [
        _choice("theme", "Light or dark"),
        _choice("size", "Size of the text"),
        _choice("sound", "Sound on or off, with a test beep"),
        _choice("keys", "Letter keys on or off"),
        _choice("temp", "Degrees Celsius or Fahrenheit"),
        _choice("mass", "Grams or ounces"),
        _choice("full", "Full screen on or off"),
    ]


CHOICES = {
    "theme": ("Colours", "Dark"),
    "size": ("Text", "Normal"),
    "sound": ("Sound", "Off"),
    "keys": ("Letter keys", "On"),
    "temp": ("Temperature", "°C"),
    "mass": ("Mass", "g"),
    "full": ("Full screen", "Off"),
}
"""What each choice is called, and how it is at first; ``assets/bench.js`` says how it is now."""


def _choice(name: str, title: str) -> html.Button:
    label, now = CHOICES[name]
    return html.Button(
        [html.Span(label), html.B(now, className="choice-label")],
        type="button",
        className="choice",
        title=title,
        **{"data-choice": name},
    )


def _theme() -> dict[str, object]:
    """The theme of the form parts, in the program's own colours."""
    return {
        "fontFamily": "var(--face)",
        "headings": {"fontFamily": "var(--face)"},
        "defaultRadius": "sm",
        "primaryColor": "beet",
        "primaryShade": {"light": 8, "dark": 3},
        "autoContrast": True,
        "colors": {
            "beet": [
                "#fff0f5",
                "#ffdce8",
                "#ffc2d6",
                GROUNDS["dark"].accent,
                "#f57aa3",
                "#df5586",
                "#c43a6d",
                "#a82656",
                GROUNDS["light"].accent,
                "#5f0b2d",
            ]
        },
    }


def register(app: Dash, places: list[Place]) -> None:
    """Attach the frame's callbacks to an app."""
    panel.register(app)

    @app.callback(Output("page", "children"), Input("where", "pathname"))
    def _go(path: str | None) -> Any:
        return page_for(places, path or "/")

    app.clientside_callback(
        ClientsideFunction("frame", "dress"),
        Output("frame", "forceColorScheme"),
        Input("choices", "data"),
    )
    app.clientside_callback(
        ClientsideFunction("pages", "narrow"), Output("narrow", "data"), Input("frame", "id")
    )
    app.clientside_callback(
        ClientsideFunction("frame", "here"),
        Output("chosen", "data"),
        Input("where", "pathname"),
        State("choices", "data"),
    )


def page_for(places: list[Place], path: str) -> Any:
    """Return the page for a path; a page that says so when there is none."""
    for place in places:
        found = re.fullmatch(place.path, path)
        if found is not None:
            return place.layout(**found.groupdict())
    return html.Div(
        className="plain-page",
        children=[
            html.H1("There is no such page"),
            html.P("The address may be old, or mistyped."),
            dcc.Link("Go to the bench", href="/", className="key main"),
        ],
    )

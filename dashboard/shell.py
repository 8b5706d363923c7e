"""The frame around each page: name, places to go, and what a person chose to see and hear.

The choices (theme, units, keys, sound) are kept in the browser alone. A page is found by its path
in a fixed table; anything else gets a page that says so.
"""

import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import dash_mantine_components as dmc
import flask
import plotly
from dash import ClientsideFunction, Dash, Input, Output, State, dcc, html
from dash.fingerprint import build_fingerprint

from dashboard.help import panel
from dashboard.palette import GROUNDS


class Place(NamedTuple):
    """One page: where it is and what draws it."""

    path: str
    """A path, or a pattern of one with groups that are handed to `layout`."""
    name: str
    """In the menu; empty for a page that is only reached from another."""
    layout: Callable[..., Any]
    graphs: bool = False
    """Whether a graph is on it."""


class Frame(Dash):
    """The app; its page names what Dash would fetch later, one after the other.

    Of a page with a graph that is the graph library, too: the largest of all scripts, without which
    Dash asks for no figure.
    """

    places: tuple[Place, ...] = ()

    def interpolate_index(self, *about: Any, **parts: Any) -> str:
        """Return the page that all others are drawn into."""
        place = place_of(self.places, flask.request.path) if flask.has_request_context() else None
        parts["css"] = f"{_AHEAD}{parts.get('css', '')}"
        if place is not None and place.graphs:
            parts["scripts"] = f"{_GRAPHS}{parts.get('scripts', '')}"
        return str(super().interpolate_index(*about, **parts))


_AHEAD = "".join(
    f'<link rel="preload" as="fetch" crossorigin="anonymous" href="/_dash-{name}">'
    for name in ("layout", "dependencies")
)


def _graphs() -> str:
    file = Path(plotly.__file__).parent / "package_data" / "plotly.min.js"
    path = f"plotly/package_data/{file.name}"
    mark = build_fingerprint(path, plotly.__version__, int(file.stat().st_mtime))
    suites = "/_dash-component-suites"
    return (
        f'<script src="{suites}/{mark}"></script>'
        f'<link rel="preload" as="script" href="{suites}/dash/dcc/async-graph.js">'
    )


_GRAPHS = _graphs()
"""The library under an address that a browser keeps until another version is installed, and the
part of Dash that draws with it. It runs before Dash, which would fetch it once more."""


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


def place_of(places: Sequence[Place], path: str) -> Place | None:
    """Return the place of a path, or None."""
    return next((place for place in places if re.fullmatch(place.path, path)), None)


def page_for(places: Sequence[Place], path: str) -> Any:
    """Return the page for a path; a page that says so when there is none."""
    place = place_of(places, path)
    found = None if place is None else re.fullmatch(place.path, path)
    if place is not None and found is not None:
        return place.layout(**found.groupdict())
    return html.Div(
        className="plain-page",
        children=[
            html.H1("There is no such page"),
            html.P("The address may be old, or mistyped."),
            dcc.Link("Go to the bench", href="/", className="key main"),
        ],
    )

"""The question mark in the head and the dialog that it opens: what to know where one is.

Nothing is drawn before it is asked for. Keyboard: ``?`` opens, Esc closes; the focus goes back to
where it was, which the browser does by itself.
"""

from typing import Any

from dash import ClientsideFunction, Dash, Input, Output, State, html

from dashboard.help.known import FIRST_BATCH, Known, known_of
from logger.words.vocabulary import meanings


def draw_mark() -> html.Button:
    """Draw the question mark."""
    return html.Button(
        "?",
        id="help-open",
        type="button",
        className="choice help-mark",
        title="Help for this page (?)",
        **{"aria-label": "Help for this page", "aria-haspopup": "dialog"},
    )


def draw_dialog() -> html.Dialog:
    """Draw the dialog, closed and empty."""
    return html.Dialog(
        [
            html.H2("Help", id="help-title"),
            html.Div(id="help-rest", className="dialog-rest", tabIndex=0),
            html.Div(
                html.Button("Close", type="button", className="key", **{"data-closes": "1"}),
                className="answers",
            ),
        ],
        id="help-dialog",
        className="dialog help",
        **{"aria-labelledby": "help-title"},
    )


def draw_known(page: Known) -> list[Any]:
    """Draw what to know of a page.

    Parameters
    ----------
    page : Known
        The page.
    """
    return [
        html.Ul([html.Li(thing) for thing in page.things], className="dots"),
        _keys(page),
        html.Details(
            [
                html.Summary("A first batch in five minutes"),
                html.Ol([html.Li(step) for step in FIRST_BATCH], className="steps"),
            ],
            className="more-of",
        ),
        html.Details(
            [
                html.Summary("Words of this page"),
                html.Dl(
                    [
                        html.Div([html.Dt(word), html.Dd(meaning)])
                        for word, meaning in meanings(page.words)
                    ],
                    className="help-words",
                ),
            ],
            className="more-of",
        ),
    ]


def _keys(page: Known) -> html.P | None:
    if not page.keys:
        return None
    keys = [
        html.Span([html.Kbd(key), f" {does} "], className="help-key") for key, does in page.keys
    ]
    return html.P(["Keys: ", *keys], className="hint help-keys")


def register(app: Dash) -> None:
    """Attach what fills the dialog when it opens."""
    app.clientside_callback(ClientsideFunction("help", "filled"), Input("help-rest", "children"))

    @app.callback(
        Output("help-title", "children"),
        Output("help-rest", "children"),
        Input("help-open", "n_clicks"),
        State("where", "pathname"),
        prevent_initial_call=True,
    )
    def _fill(_clicks: Any, path: str | None) -> Any:
        page = known_of(path or "/")
        return page.title, draw_known(page)

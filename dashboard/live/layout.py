"""The page at the bench without data: its stores, its parts, its places."""

from dash import dcc, html

from dashboard.live import dialogs, sentence
from dashboard.live.controls import draw_controls
from dashboard.live.drawing import view
from logger.model.state import StageView
from logger.model.state import State as RunState


def layout() -> html.Div:
    """Return the page without data."""
    return html.Div(
        id="bench-page",
        className="bench",
        children=[
            dcc.Store(id="command"),
            dcc.Store(id="opened"),
            dcc.Store(id="said"),
            dcc.Store(id="start-form"),
            dcc.Store(id="end-form"),
            html.Ol(id="now-rail", className="rail", **{"aria-label": "Stages"}),
            html.Div(className="cut-line", id="cut-line", role="alert", **{"data-cut": "0"}),
            html.Div(
                className="bench-main",
                children=[
                    html.Section(
                        id="now-sentence",
                        className="now",
                        role="status",
                        children=sentence.draw_sentence(WAITING),
                        **{"aria-label": "What now"},
                    ),
                    html.Section(id="now-board"),
                    _strip(),
                ],
            ),
            html.Div(
                className="bench-side",
                children=[
                    html.Ul(id="now-alarms", className="alarms", **{"aria-label": "Alarms"}),
                    html.Ul(id="now-proposals", className="alarms", **{"aria-label": "Proposals"}),
                    html.Div(id="now-numbers", className="tiles"),
                    _status(),
                ],
            ),
            html.Div(id="now-controls", className="controls", children=draw_controls(None)),
            html.Div(id="toast", className="toast", role="status"),
            html.Div(id="now-voice", className="unseen", role="alert"),
            *dialogs.draw_dialogs(),
        ],
    )


WAITING = RunState(phase="recording", view=StageView(tone="wait", say="Looking for the recorder…"))
"""What stands on the page before the first answer."""
IN_WORDS = (
    "Traces of temperatures and scale against the time of the batch. "
    "The same numbers are in The traces as a table."
)
"""What a screen reader says of the drawn traces."""


def _status() -> html.Section:
    """Whether all is well, in a line each; what is behind a line opens in its place."""
    return html.Section(
        [
            html.Div(id="now-ports"),
            html.Details(
                [html.Summary("Sensors", id="now-sensors"), html.Div(id="now-health")],
                id="sensors-fold",
                className="status-fold",
            ),
            html.Div(id="now-calm"),
            html.Div(id="now-cautions"),
            html.P(id="now-batch", className="status-line"),
            html.Details(
                [html.Summary("The traces as a table"), html.Div(id="now-table")],
                id="table-fold",
                className="status-fold as-table",
            ),
        ],
        className="plate status",
        **{"aria-label": "Status"},
    )


def _strip() -> html.Section:
    choices = [
        html.Button(name, type="button", className="chip", **{"data-window": name})
        for name in view.WINDOWS_S
    ]
    return html.Section(
        className="strip plate",
        children=[
            html.Div(
                className="strip-head",
                children=[
                    html.H2("Last 20 minutes", id="strip-title"),
                    html.Small("grey marks: no readings", className="strip-key"),
                    html.P(
                        "Looking back. Recording goes on.",
                        id="strip-back",
                        role="status",
                        className="strip-back",
                        hidden=True,
                    ),
                    html.Button(
                        "Back to live",
                        type="button",
                        id="back-to-live",
                        className="chip strong",
                        hidden=True,
                    ),
                    html.Div(
                        choices,
                        className="chips joined",
                        role="group",
                        **{"aria-label": "Time shown"},
                    ),
                ],
            ),
            html.Div(
                html.Canvas(id="strip-canvas", role="img", **{"aria-label": IN_WORDS}),
                id="strip",
                className="strip-graph",
            ),
            html.P(id="strip-trouble", className="strip-trouble"),
        ],
    )

"""What a page sends to its callbacks, compared with what they take; else 400 and one line.

The one place for all callbacks. A request must name a callback of the server and bring its own
inputs, states and outputs, in order. What a callback then finds to be of a wrong type or value was
not sent by a page of ours either: it is answered 400, and the log has the place in one line. The
name of a script that no page of ours loads is answered 404.
"""

import logging
from collections.abc import Mapping
from pathlib import Path
from typing import Any, TypedDict

import dash
import flask
from dash import Output
from dash.exceptions import DependencyException
from werkzeug.exceptions import HTTPException

from dashboard.doors.refusals import RefusalLog
from logger.model.errors import BainlogError

log = logging.getLogger(__name__)

PATH = "/_dash-update-component"
BEAT = "/beat"
"""Where the page at the bench asks for what has changed (``dashboard.live.page``)."""
MAX_PARTS = 100
"""Most inputs, states or outputs of a callback."""
WRONG_VALUES = (
    BainlogError,
    TypeError,
    ValueError,
    LookupError,
    AttributeError,
    OverflowError,
    RecursionError,
)
"""What a value of a wrong type or size, or the name of something that is gone, raises."""
_OWN = ("dashboard", "logger")
_LOG = "bainlog refusals"


class Part(TypedDict):
    """A property of a component that a callback takes or gives."""

    id: str
    property: str


class Registered(TypedDict, total=False):
    """A callback as Dash keeps it, as far as it is looked at here."""

    callback: object
    """There if the server answers it."""
    inputs: list[Part]
    state: list[Part]
    output: Output | list[Output]
    no_output: bool


def answer_wrong_payloads(app: dash.Dash) -> None:
    """Check what comes to the callbacks of an app, before them and after.

    Parameters
    ----------
    app : Dash
        With its callbacks registered, or yet to be.
    """
    server = app.server
    server.extensions[_LOG] = RefusalLog(log)

    def check() -> flask.Response | None:
        request = flask.request
        if request.path != PATH or request.method != "POST":
            return None
        try:
            wrong = wrong_in(request.get_json(silent=True), app.callback_map)
        except RecursionError:
            wrong = "nested too deeply"
        return None if wrong is None else _refused(wrong)

    server.before_request(check)
    for kind in WRONG_VALUES:
        server.register_error_handler(kind, _wrong_value)
    server.register_error_handler(DependencyException, _no_such_script)


def wrong_in(body: object, callbacks: Mapping[str, Registered]) -> str | None:
    """Return what is wrong with the body of a request to a callback, or None.

    Parameters
    ----------
    body : object
        JSON values.
    callbacks : mapping
        Callbacks of the app by their output, as Dash keeps them.
    """
    if not isinstance(body, dict):
        return "no JSON object"
    output = body.get("output")
    about = callbacks.get(output) if isinstance(output, str) else None
    if about is None or "callback" not in about:
        return "no such callback"
    for key, wanted in (("inputs", about["inputs"]), ("state", about["state"])):
        given = body.get(key, [])
        if not isinstance(given, list) or [_place(one) for one in given] != [
            _place(one) for one in wanted
        ]:
            return f"other {key} than the callback's"
    if not about.get("no_output") and _outputs(body.get("outputs")) != _own_outputs(about):
        return "other outputs than the callback's"
    changed = body.get("changedPropIds", [])
    if not isinstance(changed, list) or not all(isinstance(one, str) for one in changed):
        return "changedPropIds is no list of names"
    return None


def _place(part: object) -> tuple[str, str] | None:
    """Return the component and property of a part of a request; None where it names none."""
    if not isinstance(part, dict):
        return None
    name, key = part.get("id"), part.get("property")
    return (name, key.partition("@")[0]) if isinstance(name, str) and isinstance(key, str) else None


def _outputs(given: object) -> list[tuple[str, str] | None]:
    parts = given if isinstance(given, list) else [given]
    return [_place(part) for part in parts[:MAX_PARTS]]


def _own_outputs(about: Registered) -> list[tuple[str, str]]:
    own = about["output"]
    parts = own if isinstance(own, list) else [own]
    return [(str(one.component_id), str(one.component_property)) for one in parts]


def _wrong_value(cause: Exception) -> Any:
    """Answer 400 where a callback met a value that it does not take."""
    if isinstance(cause, HTTPException):
        return cause
    if flask.request.path not in (PATH, BEAT):
        raise cause
    return _refused(f"{type(cause).__name__} at {_where(cause)}")


def _where(cause: BaseException) -> str:
    """Return the innermost line of ours that an error came through."""
    where, trace = "the server", cause.__traceback__
    while trace is not None:
        path = Path(trace.tb_frame.f_code.co_filename)
        if path.parent.name and any(room in path.parts for room in _OWN):
            where = f"{path.name}:{trace.tb_lineno}"
        trace = trace.tb_next
    return where


def _no_such_script(cause: Exception) -> flask.Response:
    """Answer 404 where Dash is asked for a file of a package that it does not serve."""
    flask.current_app.extensions[_LOG].say(f"no such script ({type(cause).__name__})")
    return flask.Response("There is no such file.\n", status=404, mimetype="text/plain")


def _refused(why: str) -> flask.Response:
    flask.current_app.extensions[_LOG].say(why)
    text = f"This request can't be read: {why}. Load the page again.\n"
    return flask.Response(text, status=400, mimetype="text/plain")

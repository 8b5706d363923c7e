"""A client's request, checked: plain data becomes a model of ``requests``, or is refused.

Pure. Used by the recorder's threads of the control line.
"""

import reprlib
from typing import Any

from pydantic import ValidationError

from logger.control.care_requests import (
    AdoptBench,
    CheckBegin,
    CheckEnd,
    CheckWrite,
    SaveSheet,
    SetRole,
    Survey,
    Teach,
)
from logger.control.requests import (
    Accept,
    Ack,
    AskResults,
    ConfirmPiece,
    Decline,
    GoOn,
    InService,
    Mark,
    Move,
    Next,
    Note,
    Outcome,
    OutOfService,
    Photo,
    PieceIn,
    PieceOut,
    RegisterPiece,
    RemovePhoto,
    Request,
    ResetLatch,
    RunEnd,
    SetValue,
    Shelve,
    Stage,
    Start,
    Undo,
    Unshelve,
)
from logger.model.errors import InputError

REQUESTS: dict[str, type[Request]] = {
    one.do: one
    for one in (
        Start, RunEnd, GoOn, AskResults, Stage, Next, Mark, Undo, Move, Note, Outcome,
        Photo, RemovePhoto, ConfirmPiece, PieceIn, PieceOut, RegisterPiece, Ack, Shelve, Unshelve,
        ResetLatch, OutOfService, InService, Accept, Decline, SetValue, SaveSheet, SetRole,
        CheckBegin, CheckEnd, CheckWrite, Survey, Teach, AdoptBench,
    )
}  # fmt: skip
"""Every request that carries data, by its word on the control line."""

SHOWN = 60
"""Characters of a wrong value that a refusal repeats."""
_WANTED = {
    "int_type": "give a whole number",
    "float_type": "give a number",
    "finite_number": "give a finite number",
    "string_type": "give text",
    "list_type": "give a list",
    "bool_type": "give true or false",
    "string_too_short": "give some text",
    "string_too_long": "give a shorter text",
    "too_long": "give fewer",
    "greater_than": "give a number above {gt:g}",
    "greater_than_equal": "give a number of at least {ge:g}",
    "less_than_equal": "give at most {le:g}",
    "literal_error": "give {expected}",
    "missing": "give it",
}


def request_of(do: str, data: dict[str, Any]) -> Request:
    """Return a request, checked.

    Parameters
    ----------
    do : str
        What is asked.
    data : dict
        Plain JSON values, as a client sent them.

    Raises
    ------
    InputError
        If there is no such request, or a key is unknown, missing, of another type or too long.
    """
    model = REQUESTS.get(do)
    if model is None:
        raise InputError(do, "is not a command", "see DEVELOPERS.md, commands")
    unknown = next((key for key in data if key not in model.model_fields), None)
    if unknown is not None:
        taken = ", ".join(model.model_fields) or "nothing"
        raise InputError(do, f"{unknown[:SHOWN]!r} is unknown", f"it takes {taken}")
    try:
        return model.model_validate(data)
    except ValidationError as cause:
        error = cause.errors(include_url=False)[0]
        key = ".".join(str(part) for part in error["loc"])
        found = data.get(str(error["loc"][0])) if error["loc"] else None
        known = _WANTED.get(error["type"])
        wanted = known.format(**error.get("ctx", {})) if known else str(error["msg"])
        raise InputError(do, f"{key[:SHOWN]} is {_short(found)}", wanted) from cause


def _short(value: object) -> str:
    """Return a wrong value as it is shown in a refusal, however long or deep it is."""
    shown = reprlib.Repr()
    shown.maxlevel = 2
    shown.maxstring = shown.maxlong = shown.maxother = SHOWN
    return shown.repr(value)[:SHOWN]

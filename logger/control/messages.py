"""What is said on the control line: one JSON object a line, bounded, checked.

Pure. A request is ``{"token", "do", "data"}``; a reply is ``{"ok": true, "answer": ...}`` or
``{"ok": false, "error": "..."}``. A command is answered only after it is committed.
"""

import json
from typing import Any

from logger.model.errors import InputError
from logger.model.event import OPERATOR_KINDS

MAX_LINE = 2_000_000
"""Longest line [bytes]: a sheet of the largest size that is read fits."""
MAX_NOTE = 4_000
"""Longest note [characters]."""

CARE = (
    "save_sheet",
    "set_role",
    "check_begin",
    "check_end",
    "check_write",
    "survey",
    "teach",
    "adopt_bench",
)
"""Requests that change sheets or the bench file, or prepare that."""
ASKS = ("ping", "state", "results", "start", "go_on", "describe", *CARE)
"""Requests that are not events of a run."""

ANSWER_S, END_S = 8.0, 60.0


def patience_s(do: str) -> float:
    """Return how long an answer may take [s]: some have a long run judged or a
    line format tried first."""
    return END_S if do in ("run_end", "go_on", "undo", "move", "teach") else ANSWER_S


Request = tuple[str, str, dict[str, Any]]


def encode(message: dict[str, Any]) -> bytes:
    """Return one line; NaN and infinity become null, which JSON can hold."""
    return json.dumps(_plain(message), ensure_ascii=False, allow_nan=False).encode() + b"\n"


def _plain(value: Any) -> Any:
    if isinstance(value, float):
        return value if value - value == 0.0 else None
    if isinstance(value, dict):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    return value


def decode(line: bytes) -> dict[str, Any]:
    """Read one line.

    Raises
    ------
    InputError
        If it is no JSON object, names a key twice, or holds half a character, which no file can
        keep.
    """
    try:
        message = json.loads(line, object_pairs_hook=_once, parse_constant=_refuse_constant)
        json.dumps(message, ensure_ascii=False).encode()
    except UnicodeEncodeError as cause:
        raise InputError("control line", "half a character", "send whole characters") from cause
    except (ValueError, RecursionError) as cause:
        raise InputError("control line", "this is not JSON", "send one object per line") from cause
    if not isinstance(message, dict):
        raise InputError("control line", "not an object", "send one object per line")
    return message


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Return an object; a key that is there twice would be read in two ways."""
    made = dict(pairs)
    if len(made) != len(pairs):
        raise ValueError("a key twice")
    return made


def _refuse_constant(word: str) -> Any:
    raise ValueError(f"{word} is not a number in JSON")


def request_from(message: dict[str, Any]) -> Request:
    """Check a request and return (token, what to do, data).

    Raises
    ------
    InputError
        If a part is missing, of the wrong type, too long, or not known.
    """
    token, do, data = message.get("token"), message.get("do"), message.get("data", {})
    if not isinstance(token, str) or not isinstance(do, str) or not isinstance(data, dict):
        raise InputError("control line", "token, do or data is missing", "send all three")
    if do not in ASKS and do not in OPERATOR_KINDS:
        raise InputError(
            "control line", f"unknown command {do[:60]!r}", "see DEVELOPERS.md, commands"
        )
    text = data.get("text", "")
    if not isinstance(text, str) or (do != "start" and len(text) > MAX_NOTE):
        raise InputError("control line", "text too long", f"give at most {MAX_NOTE} characters")
    return token, do, data

"""Results and state to plain JSON values, and back.

The one place where records of this room become JSON and are read again: for the run file, the
control line and ``--json``. Pure.
"""

import json
from dataclasses import asdict
from functools import cache
from typing import Any

from pydantic import TypeAdapter

from logger.model.finding import Results
from logger.model.state import State

_IN_VALUES: dict[str, str] = {"tares": "tares_counted_in", "cost": "cost", "own_fat": "own_fat"}
"""Fields of the results that JSON has among the values, and under which name."""


def results_as_json(results: Results) -> dict[str, Any]:
    """Return results as plain JSON values."""
    found = asdict(results)
    for field, name in _IN_VALUES.items():
        value = found.pop(field)
        if value:
            found["values"][name] = value
    return found


def results_from(data: Any, *, strict: bool = False) -> Results:
    """Return results from their JSON values; keys that this version does not know are left out.

    Parameters
    ----------
    data : dict
        JSON values.
    strict : bool
        Take text for no number, and a number for no text.

    Raises
    ------
    ValueError
        If a value is of another kind than its row says.
    """
    if isinstance(data, dict) and isinstance(data.get("values"), dict):
        values = dict(data["values"])
        own = {
            field: values.pop(name)
            for field, name in _IN_VALUES.items()
            if isinstance(values.get(name), dict | list)
        }
        data = data | own | {"values": values}
    if strict:
        return _results().validate_json(json.dumps(data), strict=True)
    return _results().validate_python(data)


def state_from(data: Any) -> State:
    """Return a state from its JSON values, as `results_from` does.

    Raises
    ------
    ValueError
        If a value is of another kind than its row says.
    """
    return _state().validate_python(data)


@cache
def _results() -> TypeAdapter[Results]:
    return TypeAdapter(Results)


@cache
def _state() -> TypeAdapter[State]:
    return TypeAdapter(State)

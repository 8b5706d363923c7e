"""Results and state to plain JSON values, and back.

The one place where records of this room become JSON and are read again: for the run file, the
control line and ``--json``. Pure.
"""

from dataclasses import asdict
from functools import cache
from typing import Any

from pydantic import TypeAdapter

from logger.model.finding import Results
from logger.model.rows import TareRow
from logger.model.state import State

_TARES = "tares_counted_in"
"""Name among the values under which JSON has the tares that were accepted."""


def results_as_json(results: Results) -> dict[str, Any]:
    """Return results as plain JSON values."""
    found = asdict(results)
    tares = found.pop("tares")
    if tares:
        found["values"][_TARES] = tares
    return found


def results_from(data: Any) -> Results:
    """Return results from their JSON values; keys that this version does not know are left out.

    Raises
    ------
    ValueError
        If a value is of another kind than its row says.
    """
    results = _results().validate_python(data)
    tares = results.values.pop(_TARES, None)
    if tares is not None:
        results.tares = _tares().validate_python(tares)
    return results


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


@cache
def _tares() -> TypeAdapter[list[TareRow]]:
    return TypeAdapter(list[TareRow])

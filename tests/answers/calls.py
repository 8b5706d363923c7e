"""Calls functions of the pure rooms with made-up arguments and writes what comes back.

An argument is made by its type, a number by the unit in its name. Much of it is nonsense to a cook;
what counts is that nonsense in gives the same out as before. Knows no function by name but those it
leaves out.
"""

import collections.abc
import dataclasses
import enum
import importlib
import inspect
import random
import types
import typing
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np

from logger.model.errors import BainlogError
from logger.science.fats.fatfile import builtin_fats
from logger.science.fats.fats import Fat
from tests.answers import stock
from tests.answers.lines import written

ROOT = Path(__file__).resolve().parents[2]
DRAWS = 3
LENGTH = 24
"""Of an array that is made up."""
DEEPEST = 9
REFUSED = (
    BainlogError, ArithmeticError, ValueError, TypeError, LookupError, AttributeError, NameError,
    StopIteration,
)  # fmt: skip
"""What a function may say of nonsense."""
MOST_CHARS = 400
"""So much is kept of an answer."""
LEFT_OUT = {
    "science.fats.setting.trace_back", "science.heat.losscurve.fit_cooling",
    "science.heat.timeleft.temperatures_ahead", "science.heat.timeleft.time_left",
    "review.compare.effects.permutation_p", "review.learn.sheets.template",
    "science.fats.mixing._landing_c", "science.calcium.salts._require",
    "review.plan.known.checked", "review.plan.known.all_wrongs",
}  # fmt: skip
"""Fits, for which curves that are made up have no answer; what takes long; a mere text; words of
Python's own parser."""
RANGES = {
    "_c": (2.0, 78.0), "_k": (0.2, 6.0), "_g": (1.0, 300.0), "_kg": (0.1, 3.0), "_s": (1.0, 900.0),
    "_mm": (0.3, 30.0), "_m": (0.001, 0.05), "_hz": (0.5, 10.0), "_percent": (1.0, 99.0),
    "_kg_m3": (900.0, 1100.0), "_ohm": (100.0, 130.0), "_mv": (0.2, 4.0), "_uv": (200.0, 4000.0),
    "_g_min": (20.0, 300.0), "_g_h": (1.0, 90.0), "_min": (1.0, 60.0), "_pa": (9e4, 1.1e5),
}  # fmt: skip
"""Least and most by the end of a name; other numbers lie in `SHARE` or `PLAIN`."""
SHARE, PLAIN = (0.02, 0.98), (0.2, 3.0)
SHARES = ("fraction", "share", "chance", "probability", "confidence", "level", "p", "weight")


class Alike(random.Random):
    """Draws the middle of each range, so that what is compared is often equal."""

    def uniform(self, a: float, b: float) -> float:
        """Return the middle."""
        return 0.5 * (a + b)


class Unmakeable(TypeError):
    """No argument of this type can be made up."""


def made(kind: Any, name: str, rng: random.Random, depth: int = 0) -> Any:
    """Return a value of a type.

    Raises
    ------
    Unmakeable
        If none can be made up.
    """
    if depth > DEEPEST:
        raise Unmakeable(str(kind))
    origin, inside = typing.get_origin(kind), typing.get_args(kind)
    kept = stock.of(getattr(kind, "__name__", ""), rng)
    if kept is not None:
        return kept
    if kind is float:
        return number(name, rng)
    if kind is bool:
        return rng.random() < 0.5
    if kind is int:
        return round(number(name, rng) * 1e9) if name.endswith("_ns") else rng.randint(1, 6)
    if kind is str:
        return name
    if origin is typing.Literal:
        return rng.choice(inside)
    if origin in (types.UnionType, typing.Union):
        known = [each for each in inside if each is not type(None)]
        plain = [each for each in known if each is float or typing.get_origin(each) is np.ndarray]
        if type(None) in inside and rng.random() < 0.2:
            return None
        return made(rng.choice(plain or known), name, rng, depth + 1)
    if kind is np.ndarray or origin is np.ndarray:
        whole = "int" in str(kind)
        return array(name, rng).astype(np.int64 if whole else float)
    if origin is tuple and inside and inside[-1] is not Ellipsis:
        return tuple(made(each, name, rng, depth + 1) for each in inside)
    if origin is not None and issubclass(origin, collections.abc.Mapping):
        if inside[1] is Fat:
            return builtin_fats()
        return {f"key{k}": made(inside[1], name, rng, depth + 1) for k in range(3)}
    if origin is not None and issubclass(origin, collections.abc.Iterable):
        found = [made(inside[0], name, rng, depth + 1) for _ in range(rng.choice((2, 3, 5)))]
        return tuple(found) if origin is tuple else found
    return _of_class(kind, rng, depth)


def _of_class(kind: Any, rng: random.Random, depth: int) -> Any:
    if not isinstance(kind, type) or kind.__module__.partition(".")[0] != "logger":
        raise Unmakeable(str(kind))
    if issubclass(kind, enum.Enum):
        return rng.choice(list(kind))
    if not (dataclasses.is_dataclass(kind) or hasattr(kind, "_fields")):
        raise Unmakeable(str(kind))
    return kind(**arguments(kind, rng, depth))


def number(name: str, rng: random.Random) -> float:
    """Return a number as its name says: by its unit, small for an uncertainty."""
    ends = [end for end in RANGES if name.endswith(end)]
    low, high = RANGES[max(ends, key=len)] if ends else PLAIN
    if not ends and name.endswith(SHARES):
        low, high = SHARE
    value = rng.uniform(low, high)
    return 0.01 * value if name.startswith("u_") else value


def array(name: str, rng: random.Random) -> np.ndarray:
    """Return an array: times rise, temperatures come near to another, all else has two steps."""
    start, size = number(name, rng), 0.1 * number(name, rng)
    if name.startswith("t_") or name.endswith(("_s", "_ns")):
        return np.cumsum([size + 0.01 * start * rng.random() for _ in range(LENGTH)])
    if name.endswith("_c"):
        gone = 1.0 - np.exp(-np.arange(LENGTH) / rng.uniform(6.0, 20.0))
        return start + (number(name, rng) - start) * gone
    steps = [size if k in (8, 16) else 0.02 * size * rng.uniform(-1, 1) for k in range(LENGTH)]
    return start + np.cumsum(steps)


def arguments(called: Any, rng: random.Random, depth: int = 0) -> dict[str, Any]:
    """Return arguments for all parameters of a function or class but some of those with defaults.

    Raises
    ------
    Unmakeable
        If one can't be made up.
    """
    of = called.__init__ if isinstance(called, type) and not hasattr(called, "_fields") else called
    hints = typing.get_type_hints(called if hasattr(called, "_fields") else of)
    found = {}
    for name, parameter in inspect.signature(called).parameters.items():
        if parameter.default is not inspect.Parameter.empty and rng.random() < 0.5:
            continue
        if parameter.kind in (parameter.VAR_POSITIONAL, parameter.VAR_KEYWORD):
            continue
        found[name] = made(hints.get(name, object), name, rng, depth + 1)
    return found


def functions(room: str) -> Iterator[tuple[str, Any]]:
    """Yield each function and record of a room with its name."""
    for path in sorted((ROOT / "logger" / room).rglob("*.py")):
        if path.stem == "__init__":
            continue
        name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
        module = importlib.import_module(name)
        for key, each in sorted(vars(module).items()):
            if key.startswith("__") or getattr(each, "__module__", "") != name:
                continue
            if inspect.isfunction(each) or dataclasses.is_dataclass(each):
                yield f"{name.removeprefix('logger.')}.{key}", each


def called(name: str, function: Callable[..., Any]) -> Iterator[str]:
    """Yield what some calls give, a line each; nothing where no arguments can be made up."""
    before = set[str]()
    for draw in range(DRAWS):
        rng = (random.Random if draw else Alike)(f"{name} {draw}")
        try:
            given = arguments(function, rng)
        except REFUSED:
            continue
        for what, says in _said(function, given):
            line = f"{name}{what}: {says[:MOST_CHARS]}"
            if line not in before:
                yield line
            before.add(line)


def _said(function: Any, given: dict[str, Any]) -> Iterator[tuple[str, str]]:
    """Yield what a function gives; of a record each property."""
    if not isinstance(function, type):
        yield "", _answer(lambda: function(**given))
        return
    try:
        record = function(**given)
    except REFUSED:
        return
    for key, each in sorted(vars(function).items()):
        if isinstance(each, property) and not key.startswith("_"):
            yield f".{key}", _answer(lambda key=key: getattr(record, key))


def _answer(call: Callable[[], Any]) -> str:
    try:
        found = call()
        return written(list(found) if inspect.isgenerator(found) else found)
    except REFUSED as refused:  # which error is an answer too
        return type(refused).__name__


def of_room(room: str) -> Iterator[str]:
    """Yield what the functions of a room give, a line each."""
    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore")
        for name, function in functions(room):
            if name not in LEFT_OUT:
                yield from called(name, function)

"""Turns what the program answers into lines of text, and compares such lines.

Pure. A line is one record, without the fields that are as they are by default. Numbers are written
to `DIGITS` significant digits, and compared with room for the last of them, so that the mathematics
of another machine gives the same lines.
"""

import dataclasses
import re
from collections.abc import Iterator, Mapping, Set
from types import FunctionType
from typing import Any

import numpy as np

DIGITS = 6
NEAR = 2e-5
"""Relative difference of two numbers that are the same."""
NOTHING = 1e-9
"""What is nearer to zero is zero: it is left over from a difference."""
FEW = 6
"""So many values of an array are written, at even distances, beside its mean."""
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e[+-]?\d+)?")


def written(value: Any) -> str:
    """Return a value in one line."""
    if isinstance(value, float | np.floating):
        return f"{0.0 if abs(value) < NOTHING else float(value):.{DIGITS}g}"
    if isinstance(value, np.ndarray):
        return _array(value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return f"{type(value).__name__}({_fields(value)})"
    if hasattr(value, "_asdict"):
        return f"{type(value).__name__}({_pairs(value._asdict())})"
    if hasattr(value, "model_dump"):
        return f"{type(value).__name__}({_pairs(value.model_dump(exclude_defaults=True))})"
    if isinstance(value, Mapping):
        return f"{{{_pairs(value)}}}"
    if isinstance(value, Set):
        return f"{{{', '.join(sorted(map(written, value)))}}}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(written, value))}]"
    if isinstance(value, FunctionType):
        return value.__name__
    # An object that doesn't say what it holds would say where it lies.
    return type(value).__name__ if type(value).__repr__ is object.__repr__ else repr(value)


def _pairs(value: Mapping[Any, Any]) -> str:
    return ", ".join(f"{key}={written(each)}" for key, each in value.items())


def _fields(value: Any) -> str:
    """Write the fields of a dataclass that are not as they are by default."""
    kept = {}
    for field in dataclasses.fields(value):
        each = getattr(value, field.name)
        usual = field.default
        if field.default_factory is not dataclasses.MISSING:
            usual = field.default_factory()
        same_kind = type(each) is type(usual)
        if field.repr and not (same_kind and repr(each) == repr(usual)):
            kept[field.name] = each
    return _pairs(kept)


def _array(value: np.ndarray) -> str:
    if value.size <= FEW or value.dtype.kind not in "fi":
        return written(value.tolist())
    flat = value.ravel()
    some = flat[np.linspace(0, flat.size - 1, FEW).astype(int)]
    return f"array({flat.size}, mean={written(float(np.nanmean(flat)))}, {written(some.tolist())})"


def table(name: str, value: Any) -> Iterator[str]:
    """Yield a record in one line, a list of records or a mapping in one line each."""
    if isinstance(value, Mapping):
        for key, each in value.items():
            yield f"{name}.{key}: {written(each)}"
    elif isinstance(value, list | tuple) and not hasattr(value, "_asdict"):
        for each in value:
            yield f"{name}: {written(each)}"
    elif value is not None:
        yield f"{name}: {written(value)}"


def of_each(value: Any) -> Iterator[str]:
    """Yield each field of a dataclass as a `table`."""
    for field in dataclasses.fields(value):
        yield from table(field.name, getattr(value, field.name))


def same(one: str, other: str) -> bool:
    """Whether two lines say the same: words alike, numbers near."""
    if one == other:
        return True
    if _NUMBER.split(one) != _NUMBER.split(other):
        return False
    pairs = zip(_NUMBER.findall(one), _NUMBER.findall(other), strict=True)
    return all(_near(float(a), float(b)) for a, b in pairs)


def _near(one: float, other: float) -> bool:
    return abs(one - other) <= NEAR * max(abs(one), abs(other)) + NOTHING

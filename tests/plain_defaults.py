"""Dataclasses of a package, and what their fields say when nobody said anything."""

import dataclasses
import importlib
import math
import pkgutil
from collections.abc import Iterator


def said_by_default(package: str) -> Iterator[tuple[str, object]]:
    """Yield each field whose default says something: not None, False, nought, NaN or empty."""
    for module in _modules(package):
        for each in vars(module).values():
            if not dataclasses.is_dataclass(each) or each.__module__ != module.__name__:
                continue
            for field in dataclasses.fields(each):
                default = field.default
                if field.default_factory is not dataclasses.MISSING:
                    default = field.default_factory()
                if default is dataclasses.MISSING or _is_nothing(default):
                    continue
                yield f"{each.__name__}.{field.name}", default


def _modules(package: str) -> Iterator[object]:
    root = importlib.import_module(package)
    for found in pkgutil.walk_packages(root.__path__, f"{package}."):
        yield importlib.import_module(found.name)


def _is_nothing(value: object) -> bool:
    if dataclasses.is_dataclass(value):
        return True
    return not value or (isinstance(value, float) and math.isnan(value))

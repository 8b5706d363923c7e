"""Which keys of a sheet's tables the form shows, from the models of the sheet.

Pure look-ups: a new field of a table is in the form without a line here. A list of names is typed
with commas between; a list of tables has cards of its own.
"""

import datetime
import types
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from logger.model.kinds.registry import kind_named
from logger.model.recipe.entry import Alternative, Entry, Part, Phase, Price, Subrecipe
from logger.model.sheet import DeclaredResult, SheetHead, Vessel
from logger.model.written import Band, field_unit

Shape = Literal["text", "choice", "switch", "count", "list"]
"""How a value is typed: words, one of a few, on or off, a plain number, names with commas."""

IN_ROW = ("name", "phase", "mass", "amount", "tolerance", "price", "lot")
"""Keys of an ingredient that its row shows; ``mass`` and ``amount`` are one cell."""
IN_HEAD = ("name", "product", "author", "change", "why", "notes", "batch", "yield", "loss",
           "decision_rule", "defects")  # fmt: skip
"""Keys of the ``[sheet]`` table that the form shows."""
PHASES: tuple[str, ...] = get_args(Phase)
_NOT_TYPED = ("kind", "source")
_MODELS: dict[str, type[BaseModel]] = {
    "ingredient": Entry,
    "ingredient.alternative": Alternative,
    "subrecipe": Subrecipe,
    "subrecipe.ingredient": Part,
    "vessel": Vessel,
    "result": DeclaredResult,
}
_FIRST = ("id", "name", "mass", "amount", "ratio", "tolerance", "price", "lot", "density",
          "fat_content", "water_content", "temp", "grade", "best_before", "allergens",
          "subrecipe")  # fmt: skip
"""What a cook looks for first, in this order; the rest follows as the models have it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One value of a table that is typed.

    Attributes
    ----------
    path : tuple of str
        Keys below the table: ``("dwell", "low")``.
    unit : str
        In which a bare number is taken; empty for none.
    shape : str
        How it is typed.
    choices : tuple of str
        What it may be, for a choice.
    """

    path: tuple[str, ...]
    unit: str = ""
    shape: Shape = "text"
    choices: tuple[str, ...] = ()


@cache
def stage_fields(kind: str) -> tuple[Field, ...]:
    """Return the fields of a kind of stage, its own targets first; none of an unknown kind."""
    found = kind_named(kind)
    if found is None:
        return ()
    own = dict(found.model.model_fields)
    first = ("title", "planned_s")
    base = ("id", "text", "equipment", "speed", "pan_temp_c", "oil_temp_c", "ends")
    middle = [name for name in own if name not in (*first, *base)]
    order = [name for name in (*first, *middle, *base) if name in own]
    return tuple(f for name in order for f in _fields(name, own[name]))


@cache
def head_fields() -> tuple[Field, ...]:
    """Return the fields of the ``[sheet]`` table."""
    known = {info.alias or name: (name, info) for name, info in SheetHead.model_fields.items()}
    return tuple(f for key in IN_HEAD for f in _fields(*known[key]))


@cache
def table_fields(table: str) -> tuple[Field, ...]:
    """Return the fields of a table that is no stage and not ``[sheet]``; mass is in ``amount``.

    Parameters
    ----------
    table : str
        Such as ``"vessel"`` or ``"ingredient.alternative"``; one that is not known has none.
    """
    model = _MODELS.get(table)
    if model is None:
        return ()
    found = [f for name, info in model.model_fields.items() for f in _fields(name, info)]
    keys = {one.path[0] for one in found}
    if "amount" in keys:
        found = [
            Field(path=one.path, unit="g") if one.path == ("amount",) else one
            for one in found
            if one.path[0] not in ("mass", "phase")
        ]
    return tuple(sorted(found, key=_rank))


def _rank(field: Field) -> int:
    return _FIRST.index(field.path[0]) if field.path[0] in _FIRST else len(_FIRST)


def _fields(name: str, info: FieldInfo) -> list[Field]:
    key, kind = info.alias or name, _bare(info.annotation)
    if name in _NOT_TYPED:
        return []
    if kind is Price or kind is datetime.date:
        return [Field(path=(key,))]
    if get_origin(kind) is list:
        named = _bare(get_args(kind)[0]) in (str, float)
        return [Field(path=(key,), shape="list")] if named else []
    if kind is Band:
        unit = field_unit(name) or ""
        return [Field(path=(key, end), unit=unit) for end in ("low", "high")]
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        inside = [f for n, i in kind.model_fields.items() for f in _fields(n, i)]
        return [
            Field(path=(key, *f.path), unit=f.unit, shape=f.shape, choices=f.choices)
            for f in inside
        ]
    if get_origin(kind) is Literal:
        return [Field(path=(key,), shape="choice", choices=tuple(map(str, get_args(kind))))]
    if kind is bool:
        return [Field(path=(key,), shape="switch")]
    if kind is int:
        return [Field(path=(key,), shape="count")]
    if kind is float:
        return [Field(path=(key,), unit=field_unit(name) or "", shape=_number_shape(name))]
    return [Field(path=(key,))] if kind is str else []


def _number_shape(name: str) -> Shape:
    return "text" if field_unit(name) else "count"


def _bare(annotation: Any) -> Any:
    """Return a type without what is added to it and without None."""
    if get_origin(annotation) is Annotated:
        return _bare(get_args(annotation)[0])
    if get_origin(annotation) in (Union, types.UnionType):
        return _bare(next(one for one in get_args(annotation) if one is not type(None)))
    return annotation

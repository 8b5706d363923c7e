"""The form of a sheet's text: rows of ingredients, cards of stages, and what stays in the text.

Pure. Values are shown as they are written, right or wrong; what the form can't show is named, so
that nobody takes the form for all of the sheet.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from logger.batch.form.fields import IN_ROW, Field, head_fields, stage_fields, table_fields
from logger.batch.form.places import at_path, paths_of
from logger.model.files import table_of

NO_NAMES = "none"
"""How a list without names is shown and typed; a list that is not written is unknown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class IngredientRow:
    """One ingredient as its row shows it; empty is not written.

    Attributes
    ----------
    place : int
        In the text, counted from zero.
    amount : str
        ``mass`` or ``amount``, as it is written.
    more : tuple of str
        Keys that only the text has.
    """

    place: int
    name: str = ""
    phase: str = ""
    amount: str = ""
    tolerance: str = ""
    price: str = ""
    lot: str = ""
    more: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """A field with what is written in it; empty where nothing is."""

    field: Field
    value: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StageCard:
    """One stage as its card shows it.

    Attributes
    ----------
    place : int
        In the text, counted from zero.
    kind : str
        As it is written, known or not.
    values : tuple of Typed
        Every field of its kind.
    more : tuple of str
        Keys that only the text has.
    """

    place: int
    id: str
    kind: str
    title: str
    values: tuple[Typed, ...] = ()
    more: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TableCard:
    """One table that is neither stage nor head: an ingredient's details, a vessel, a sub-recipe.

    Attributes
    ----------
    table : str
        Its name, such as ``"ingredient.alternative"``.
    place : int
        Among those of the name, counted from zero through the whole text.
    outer, inner : int
        Place of the table that it is in, or its own; its place in that, -1 if it is in none.
    values : tuple of Typed
        Every field.
    more : tuple of str
        Keys that only the text has.
    """

    table: str
    place: int
    outer: int
    inner: int = -1
    values: tuple[Typed, ...] = ()
    more: tuple[str, ...] = ()

    def value(self, key: str) -> str:
        """Return what is written at a key of the table itself; empty for nothing."""
        return next((one.value for one in self.values if one.field.path == (key,)), "")


OTHERS = ("subrecipe", "subrecipe.ingredient", "vessel", "result", "ingredient.alternative")
"""Tables with cards of their own, besides stages."""
_INSIDE = {"ingredient": ("alternative",), "subrecipe": ("ingredient",)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """A sheet's text as a form.

    Attributes
    ----------
    head : tuple of Typed
        Fields of the ``[sheet]`` table.
    entries : tuple of TableCard
        What else is said of each ingredient.
    others : tuple of TableCard
        Sub-recipes and what goes into them, vessels, results, alternatives.
    elsewhere : tuple of (str, int)
        Tables that only the text has, and how many of each; keys of ``[sheet]`` as one a key.
    """

    head: tuple[Typed, ...] = ()
    ingredients: tuple[IngredientRow, ...] = ()
    stages: tuple[StageCard, ...] = ()
    entries: tuple[TableCard, ...] = ()
    others: tuple[TableCard, ...] = ()
    elsewhere: tuple[tuple[str, int], ...] = ()


def form_of(text: str, name: str) -> Form:
    """Return the form of a text.

    Parameters
    ----------
    text : str
        TOML; its values need not be valid.
    name : str
        What messages call it.

    Raises
    ------
    InputError
        If it is no TOML.
    """
    data = table_of(text, name)
    head = data.get("sheet")
    head = head if isinstance(head, dict) else {}
    typed, more = _typed(head, head_fields(), ("revision",))
    return Form(
        head=typed,
        ingredients=tuple(_row(n, one) for n, one in enumerate(_tables(data, "ingredient"))),
        stages=tuple(_card(n, one) for n, one in enumerate(_tables(data, "stage"))),
        entries=_cards(data, "ingredient"),
        others=tuple(card for table in OTHERS for card in _cards(data, table)),
        elsewhere=(*((key, 1) for key in more), *_others(data)),
    )


def _tables(data: Mapping[str, Any], key: str) -> list[Mapping[str, Any]]:
    found = data.get(key)
    return [one for one in found if isinstance(one, dict)] if isinstance(found, list) else []


def _others(data: Mapping[str, Any]) -> list[tuple[str, int]]:
    known = ("sheet", "ingredient", "stage", *OTHERS)
    return [(k, len(v) if isinstance(v, list) else 1) for k, v in data.items() if k not in known]


def _row(place: int, table: Mapping[str, Any]) -> IngredientRow:
    shown = {key: written(table[key]) for key in IN_ROW if key in table and _plain(table[key])}
    mass = shown.pop("mass", "")
    more = _table_typed("ingredient", table)[1]
    return IngredientRow(place=place, **{**shown, "amount": shown.get("amount") or mass}, more=more)


def _cards(data: Mapping[str, Any], name: str) -> tuple[TableCard, ...]:
    found = []
    for place, path in enumerate(paths_of(data, name)):
        table = at_path(data, path)
        if not isinstance(table, dict):
            return ()
        typed, more = _table_typed(name, table)
        inner = path[3] if len(path) > 2 else -1
        found.append(
            TableCard(
                table=name,
                place=place,
                outer=int(path[1]),
                inner=int(inner),
                values=typed,
                more=more,
            )
        )
    return tuple(found)


def _table_typed(name: str, table: Mapping[str, Any]) -> tuple[tuple[Typed, ...], tuple[str, ...]]:
    """Return the fields of a table that is no stage; an amount is shown under one key."""
    fields = table_fields(name)
    own = dict(table)
    if any(one.path == ("amount",) for one in fields) and "amount" not in own and "mass" in own:
        own["amount"] = own.pop("mass")
    shown = ("phase", *_INSIDE.get(name, ()))
    return _typed(own, fields, [key for key in shown if _shown_inside(own.get(key))])


def _shown_inside(value: Any) -> bool:
    """Whether a value is shown: a plain one, or tables that have cards."""
    return isinstance(value, list) or _plain(value)


def _card(place: int, table: Mapping[str, Any]) -> StageCard:
    kind = written(table.get("kind", ""))
    typed, more = _typed(table, stage_fields(kind), ("kind", "id", "title"))
    return StageCard(
        place=place,
        id=written(table.get("id", "")),
        kind=kind,
        title=written(table.get("title", "")),
        values=typed,
        more=more,
    )


def _typed(
    table: Mapping[str, Any], fields: Sequence[Field], shown: Sequence[str]
) -> tuple[tuple[Typed, ...], tuple[str, ...]]:
    found, said = [], set(shown)
    for field in fields:
        value: Any = table
        for key in field.path:
            value = value.get(key) if isinstance(value, dict) else None
        if value is not None and _plain(value):
            said.add(".".join(field.path))
        found.append(Typed(field=field, value=written(value) if _plain(value) else ""))
    return tuple(found), tuple(key for key in _leaves(table) if key not in said)


def _leaves(table: Mapping[str, Any]) -> list[str]:
    return [
        f"{key}.{inner}" if inner else key
        for key, value in table.items()
        for inner in (value if isinstance(value, dict) else [""])
    ]


def _plain(value: Any) -> bool:
    if isinstance(value, list):
        return not any(isinstance(one, dict | list) for one in value)
    return not isinstance(value, dict)


def written(value: Any) -> str:
    """Return a value of a TOML text as a field shows it; empty for what is not there."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return ", ".join(map(written, value)) or NO_NAMES
    return str(value)

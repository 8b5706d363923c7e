"""A sheet's ingredients as they are written to one list of names and masses: what is weighed.

Pure; used by logger.model.files for every sheet that a person wrote. A list that is flat already
comes back as it was. What is added to taste has no mass and stays beside the list.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar

from logger.model.recipe.amount import amount_of
from logger.model.recipe.entry import MOST_PARTS, Entry, Part, Subrecipe
from logger.model.recipe.made import Made, all_made, amount_at, line_of, no_such
from logger.model.recipe.shares import Line, masses_g
from logger.model.written import AtKeyError

FOOD = ("fat", "water", "filling")
"""Phases that are eaten as the filling: together they are the batch."""
MOST_WEIGHED = 1_000
"""Of one sheet, with those of sub-recipes."""
Some = TypeVar("Some", bound=Part)
_BOUGHT = (
    "fat", "salt", "substance", "price", "lot", "best_before", "temp_c", "fat_content_percent",
    "water_content_percent", "allergens", "grade", "alternative",
)  # fmt: skip
"""What belongs to one ingredient, never to several together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighList:
    """What a sheet's ingredients come to.

    Attributes
    ----------
    weighed : list of Entry
        Each with its mass and a name of its own.
    to_taste : list of Entry
        Nobody says how much.
    ahead : list of Subrecipe
        Made first and weighed in as one, at the size that is needed, in the order of the making.
    called : dict
        Names of `weighed` by each name under which the sheet may speak of them.
    """

    weighed: list[Entry] = field(default_factory=list)
    to_taste: list[Entry] = field(default_factory=list)
    ahead: list[Subrecipe] = field(default_factory=list)
    called: dict[str, list[str]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Leaf(Generic[Some]):
    """One thing that is weighed, before it has a name of its own."""

    key: str
    part: Some
    mass_g: float | None
    called: tuple[str, ...]


def flattened(
    entries: Sequence[Entry], recipes: Sequence[Subrecipe], batch_g: float | None
) -> WeighList:
    """Return the weigh list of a sheet.

    Parameters
    ----------
    entries : sequence of Entry
        Ingredients of the batch.
    recipes : sequence of Subrecipe
        Sub-recipes.
    batch_g : float or None
        Mass of fat, water and filling together that the sheet asks for [g].

    Raises
    ------
    AtKeyError
        If an amount cannot be told, a name stands twice where it may not, or sub-recipes go round
        in a circle.
    """
    made = all_made(recipes)
    keys = _keys(entries)
    masses = _masses_g(keys, entries, batch_g)
    leaves, needed_g = list[_Leaf[Entry]](), dict[str, float]()
    for key, entry, mass_g in zip(keys, entries, masses, strict=True):
        _add(leaves, _leaves(key, entry, mass_g, made, needed_g), MOST_WEIGHED)
    weighed = [leaf for leaf in leaves if leaf.mass_g is not None]
    names = _names(weighed)
    found = WeighList(
        weighed=[_flat(leaf, name) for leaf, name in zip(weighed, names, strict=True)],
        to_taste=[leaf.part for leaf in leaves if leaf.mass_g is None],
        ahead=_ahead(made, needed_g),
    )
    for leaf, name in zip(weighed, names, strict=True):
        for called in leaf.called:
            found.called.setdefault(called, []).append(name)
    return found


def entry_masses_g(entries: Sequence[Entry], batch_g: float | None) -> list[float | None]:
    """Return the mass of each ingredient as it is written [g]; None to taste.

    Parameters
    ----------
    entries : sequence of Entry
        Ingredients of the batch.
    batch_g : float or None
        Mass of fat, water and filling together that the sheet asks for [g].

    Raises
    ------
    AtKeyError
        If an amount cannot be told.
    """
    return _masses_g(_keys(entries), entries, batch_g)


def _keys(entries: Sequence[Entry]) -> list[str]:
    return [own_key(place) for place in range(1, len(entries) + 1)]


def _add(leaves: "list[_Leaf[Some]]", more: "Iterator[_Leaf[Some]]", most: int) -> None:
    """Add what is weighed, one by one: sub-recipes that use others twice grow without end."""
    for leaf in more:
        if len(leaves) == most:
            found = f"more than {most} ingredients to weigh"
            raise AtKeyError(
                leaf.key, found, "write ahead = true in sub-recipes that are used often"
            )
        leaves.append(leaf)


def _flat(leaf: "_Leaf[Some]", name: str) -> Some:
    """Return an ingredient with its own name and its mass."""
    changes: dict[str, Any] = {"name": name, "mass_g": leaf.mass_g, "part": ""}
    reach_percent = _reach_percent(leaf.part)
    if reach_percent is not None:
        changes["tolerance_percent"] = reach_percent
    return leaf.part.model_copy(update={**changes, "amount": None, "base": False})


def _reach_percent(part: Part) -> float | None:
    """Return how far a range goes to either side [%]; None where no range is written."""
    return amount_of(part.amount).reach_percent if part.amount is not None else None


def own_key(place: int) -> str:
    """Return the key of an ingredient of the batch, by its place counted from one."""
    return f"ingredient[{place}]"


def labels_of(entries: Sequence[Entry]) -> dict[str, str]:
    """Return what a person calls each whole that percents of these ingredients may be of."""
    phases = {f"phase {entry.phase}": f"the {entry.phase} phase" for entry in entries}
    return {"batch": "the batch", "base": "the base", **phases}


def entry_line(key: str, entry: Entry) -> Line | None:
    """Return an ingredient of the batch as it goes into the sums; None to taste.

    Parameters
    ----------
    key : str
        Where it is written.
    entry : Entry
        The ingredient.

    Raises
    ------
    AtKeyError
        If its amount cannot be told, or is of what it is no part of.
    """
    amount = amount_at(key, entry)
    if amount.to_taste:
        return None
    if amount.of == "subrecipe" or (amount.of == "batch" and entry.phase not in FOOD):
        found = f"{entry.amount!r} of an ingredient of the {entry.phase} phase"
        wanted = f"write '{amount.middle:g} % of phase', or a mass"
        raise AtKeyError(f"{key}.amount", found, wanted)
    phase = f"phase {entry.phase}"
    whole = phase if amount.of == "phase" else amount.of or ""
    inside = {phase, *(["batch"] if entry.phase in FOOD else [])}
    return line_of(key, entry, amount, whole, inside)


def _masses_g(
    keys: Sequence[str], entries: Sequence[Entry], batch_g: float | None
) -> list[float | None]:
    each = [entry_line(key, entry) for key, entry in zip(keys, entries, strict=True)]
    lines = [line for line in each if line is not None]
    given_g = {} if batch_g is None else {"batch": batch_g}
    if batch_g is not None and not any("batch" in line.counts_in for line in lines):
        raise AtKeyError("sheet.batch", "no ingredient of the batch", "add one, or take it out")
    left = iter(masses_g(lines, given_g, labels_of(entries)))
    return [None if line is None else next(left) for line in each]


def _leaves(
    key: str,
    part: Some,
    mass_g: float | None,
    made: Mapping[str, Made],
    needed_g: dict[str, float],
    called: tuple[str, ...] = (),
) -> Iterator[_Leaf[Some]]:
    """Give what is weighed for one ingredient; count what is needed of what is made ahead."""
    called = (part.name, *called)
    if part.subrecipe is None or mass_g is None:
        yield _Leaf(key=key, part=part, mass_g=mass_g, called=called)
        return
    one = made.get(part.subrecipe)
    if one is None:
        found = f"no sub-recipe {part.subrecipe!r}"
        raise AtKeyError(f"{key}.subrecipe", found, no_such(list(made)))
    if one.whole:
        needed_g[part.subrecipe] = needed_g.get(part.subrecipe, 0.0) + mass_g
        yield _Leaf(key=key, part=part, mass_g=mass_g, called=called)
        return
    _require_plain(key, part)
    for place, (inner, per_g) in enumerate(
        zip(one.recipe.ingredient, one.per_g, strict=True), start=1
    ):
        inner_g = None if per_g is None else _digits(per_g * mass_g)
        where = f"{one.key}.ingredient[{place}]"
        inside = _inside(part, inner)
        yield from _leaves(where, inside, inner_g, made, needed_g, (one.recipe.name, *called))


def _digits(mass_g: float) -> float:
    return float(f"{mass_g:.10g}")  # no 180.00000000000003 on a paper


def _inside(outer: Some, part: Part) -> Some:
    """Return an ingredient of a sub-recipe as one of where the sub-recipe is used."""
    values = {name: getattr(part, name) for name in type(part).model_fields}
    values["phase"] = outer.phase
    values["part"] = ", ".join(said for said in (outer.part, part.part) if said)
    values["group"] = part.group or outer.subrecipe or ""
    if part.tolerance_percent is None and _reach_percent(part) is None:
        values["tolerance_percent"] = _reach_percent(outer) or outer.tolerance_percent
    return outer.model_copy(update=values)


def _require_plain(key: str, part: Part) -> None:
    """Refuse what is said of a whole that is weighed in as its parts: it would be lost."""
    for name in _BOUGHT:
        if getattr(part, name) not in (None, "", []):
            alias = type(part).model_fields[name].alias or name
            wanted = f"write it at its parts, or ahead = true in the sub-recipe {part.subrecipe!r}"
            found = f"{part.name!r} is weighed in as its parts, so this is lost"
            raise AtKeyError(f"{key}.{alias}", found, wanted)


def _names(leaves: Sequence[_Leaf[Some]]) -> list[str]:
    """Return a name of its own for each: with its part, else its sub-recipe, where it needs one.

    Raises
    ------
    AtKeyError
        If nothing tells two of one name apart.
    """
    names = [leaf.part.name for leaf in leaves]
    found = list(names)
    for place, leaf in enumerate(leaves):
        rivals = [one.part for one, name in zip(leaves, names, strict=True) if name == names[place]]
        if len(rivals) == 1:
            continue
        own = leaf.part
        said = own.part or own.group
        if [one.part or one.group for one in rivals].count(said) > 1 and own.group:
            said = ", ".join(filter(None, (own.part, own.group, own.phase)))
        found[place] = f"{own.name} ({said})" if said else own.name
        if found[place] in found[:place]:
            wanted = 'give each its own; or add part = "first" and part = "second"'
            raise AtKeyError(f"{leaf.key}.name", f"{own.name!r} is used twice", wanted)
    return found


def _ahead(made: Mapping[str, Made], needed_g: dict[str, float]) -> list[Subrecipe]:
    """Return what is made first, at the size that is needed."""
    found = []
    for name, one in reversed(list(made.items())):  # what needs others comes ahead of them
        if name not in needed_g:
            continue
        size_g, leaves = needed_g[name], list[_Leaf[Part]]()
        for place, (part, per_g) in enumerate(
            zip(one.recipe.ingredient, one.per_g, strict=True), start=1
        ):
            part_g = None if per_g is None else _digits(per_g * size_g)
            where = f"{one.key}.ingredient[{place}]"
            _add(leaves, _leaves(where, part, part_g, made, needed_g), MOST_PARTS)
        names = iter(_names([leaf for leaf in leaves if leaf.mass_g is not None]))
        parts = [leaf.part if leaf.mass_g is None else _flat(leaf, next(names)) for leaf in leaves]
        size = {"yield_g": _digits(size_g)} if one.recipe.yield_g is not None else {}
        found.append(one.recipe.model_copy(update={"ingredient": parts, **size}))
    return found[::-1]

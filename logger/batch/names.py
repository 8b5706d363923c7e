"""Do the names in a batch sheet exist: fats, rule sets, heating tables, ingredients, channels.

Pure; used wherever a sheet is taken up: planned, checked, started, imported with. The text itself
is read by logger.model.files; what a name stands for is looked up here.
"""

import difflib
from collections.abc import Iterable, Iterator, Mapping, Sequence

from logger.batch.rulesets import named_rules, rule_set_of
from logger.model.bench import Bench
from logger.model.errors import InputError
from logger.model.files import sheet_from_text
from logger.model.kinds.registry import Stage, kind_of, named_channel
from logger.model.recipe.entry import Part
from logger.model.sheet import Sheet, WrittenSheet
from logger.science.fats.fats import Fat
from logger.science.heat.cooling_rules import names


def known_sheet(text: str, file: str, fats: Mapping[str, Fat], bench: Bench | None = None) -> Sheet:
    """Read a batch sheet to be used; refuse one that names what is not there.

    Parameters
    ----------
    text : str
        The sheet as TOML.
    file : str
        Its name, for messages.
    fats : mapping
        Fats that are known, by key.
    bench : Bench, optional
        Whose channels the sheet may name; None does not check them.

    Raises
    ------
    InputError
        If the text is no sheet, or for the first of `wrong_names`.
    """
    sheet = sheet_from_text(text, file)
    for wrong in wrong_names(sheet, file, fats, bench):
        raise wrong
    return sheet


def wrong_names(
    sheet: Sheet,
    file: str,
    fats: Mapping[str, Fat],
    bench: Bench | None = None,
    written: WrittenSheet | None = None,
) -> list[InputError]:
    """Return every name of a sheet that stands for nothing, in the order of the sheet.

    Parameters
    ----------
    sheet : Sheet
        As read.
    file : str
        Its name, for messages.
    fats : mapping
        Known fats by key.
    bench : Bench, optional
        Whose channels a stage may name; without one channels are not looked up.
    written : WrittenSheet, optional
        The sheet as it is written: what is wrong with an ingredient then has its place there.

    Returns
    -------
    list of InputError
        Each with file, key, what stands there and what would do.
    """
    found = [
        *(_of_ingredients(sheet, fats) if written is None else _of_written(written, fats)),
        *_of_stages(sheet),
        *_of_channels(sheet, bench),
        *_mixed_families(sheet),
    ]
    return [InputError(f"{file}: {key}", says, wanted) for key, says, wanted in found]


def wrong_in_part(written: WrittenSheet, file: str, fats: Mapping[str, Fat]) -> list[InputError]:
    """Return the names that stand for nothing in a sheet that does not read as a whole.

    Parameters
    ----------
    written : WrittenSheet
        What reads of it.
    file : str
        Its name, for messages.
    fats : mapping
        Known fats by key.
    """
    found = [*_of_written(written, fats), *_of_rules(written.stage), *_mixed_families(written)]
    return [InputError(f"{file}: {key}", says, wanted) for key, says, wanted in found]


Wrong = tuple[str, str, str]


def _of_written(written: WrittenSheet, fats: Mapping[str, Fat]) -> Iterator[Wrong]:
    parts = [(f"ingredient[{n}]", one) for n, one in enumerate(written.ingredient, start=1)]
    more: list[tuple[str, Part]] = [
        (f"subrecipe[{place}].ingredient[{n}]", one)
        for place, recipe in enumerate(written.subrecipe, start=1)
        for n, one in enumerate(recipe.ingredient, start=1)
    ]
    for key, part in [*parts, *more]:
        yield from _of_part(key, part, fats)


def _of_part(key: str, part: Part, fats: Mapping[str, Fat]) -> Iterator[Wrong]:
    yield from _of_fat(f"{key}.fat", part.fat, fats)
    for number, other in enumerate(part.alternative, start=1):
        yield from _of_fat(f"{key}.alternative[{number}].fat", other.fat, fats)


def _of_ingredients(sheet: Sheet, fats: Mapping[str, Fat]) -> Iterator[Wrong]:
    # With sub-recipes or amounts to taste the list has other places than the file.
    moved = bool(sheet.to_taste) or any(i.group or i.subrecipe for i in sheet.ingredient)
    for place, ingredient in enumerate(sheet.ingredient, start=1):
        key = f"ingredient {ingredient.name!r}" if moved else f"ingredient[{place}]"
        yield from _of_part(key, ingredient, fats)


def _of_fat(key: str, fat: str | None, fats: Mapping[str, Fat]) -> Iterator[Wrong]:
    if fat is not None and fat not in fats:
        yield key, f"no fat {fat!r}", _one_of(fat, fats)


def _of_stages(sheet: Sheet) -> Iterator[Wrong]:
    yield from _of_rules(sheet.stage)
    for place, stage in enumerate(sheet.stage, start=1):
        yield from _of_weighed(stage, f"stage[{place}]", [i.name for i in sheet.ingredient])


def _of_rules(stages: Sequence[Stage]) -> Iterator[Wrong]:
    for place, stage in enumerate(stages, start=1):
        yield from _of_rule_set(stage, f"stage[{place}]")
        yield from _of_table(stage, f"stage[{place}]")


def _of_rule_set(stage: Stage, key: str) -> Iterator[Wrong]:
    of, rule_set = kind_of(stage).rule_sets, rule_set_of(stage)
    if of is not None and rule_set is not None:
        known = names(of)
        if rule_set not in known:
            found = f"no {of} rule set {rule_set!r}"
            yield f"{key}.rule_set", found, _one_of(rule_set, known)


def _of_table(stage: Stage, key: str) -> Iterator[Wrong]:
    """A field means the same in every kind that has it."""
    table: str | None = getattr(stage, "lethality", None)
    reduction: float | None = getattr(stage, "log_reduction", None)
    tables = names("lethality")
    if table is not None and table not in tables:
        yield f"{key}.lethality", f"no lethality table {table!r}", _one_of(table, tables)
    elif reduction is not None and table is None:
        found = f"{reduction:g} without a table that credits it"
        yield f"{key}.log_reduction", found, f"add lethality = {tables[0]!r} or another"


def _of_weighed(stage: Stage, key: str, weighed: Iterable[str]) -> Iterator[Wrong]:
    """A field means the same in every kind that has it."""
    several: list[str] | None = getattr(stage, "ingredients", None)
    one: str | None = getattr(stage, "ingredient", None)
    named = [(f"{key}.ingredients[{n}]", name) for n, name in enumerate(several or [], start=1)]
    named += [(f"{key}.ingredient", one)] if one is not None else []
    for where, name in named:
        if name not in weighed:
            yield where, f"no ingredient {name!r} in the sheet", _one_of(name, weighed)


def _of_channels(sheet: Sheet, bench: Bench | None) -> Iterator[Wrong]:
    if bench is None:
        return
    there = [c.id for c in bench.channel]
    for place, stage in enumerate(sheet.stage, start=1):
        channel = named_channel(stage)
        if channel is not None and channel not in there:
            found = f"the bench has no channel {channel!r}"
            yield f"stage[{place}].channel", found, _one_of(channel, there)


def _mixed_families(sheet: Sheet | WrittenSheet) -> Iterator[Wrong]:
    """Rule sets of two families in one sheet: their limits do not add up to either."""
    first = ""
    for named in named_rules(sheet):
        family = named.rule.family
        if first and family != first:
            found = f"{named.key!r} is of {family!r}, an earlier stage uses {first!r}"
            yield f"stage[{named.place}].rule_set", found, "keep to the rule sets of one family"
        first = first or family


def _one_of(name: str, known: Iterable[str]) -> str:
    """Say which name was likely meant, or which there are."""
    there = list(known)
    near = difflib.get_close_matches(name, there, n=1, cutoff=0.6)
    hint = f"did you mean {near[0]!r}? " if near else ""
    return f"{hint}write one of {', '.join(there)}" if there else "remove it: there is none"

"""All that is wrong with amounts and sub-recipes, each as far as it is known without the rest.

Pure; `flatten` refuses a sheet for the first of these. A sum is looked at only where all that
counts in it has an amount.
"""

from collections.abc import Collection, Iterator, Sequence

from logger.model.recipe.entry import Entry, Part, Subrecipe
from logger.model.recipe.flatten import FOOD, entry_line, entry_masses_g, labels_of, own_key
from logger.model.recipe.made import amount_at, made_of, no_such
from logger.model.recipe.shares import Line, share_wrongs
from logger.model.written import AtKeyError


def recipe_wrongs(
    entries: Sequence[Entry],
    recipes: Sequence[Subrecipe],
    batch_g: float | None,
    *,
    left_out: Collection[str] = (),
) -> list[AtKeyError]:
    """Return what is wrong with single ingredients, sub-recipes, circles and sums.

    Parameters
    ----------
    entries : sequence of Entry
        Ingredients of the batch.
    recipes : sequence of Subrecipe
        Sub-recipes.
    batch_g : float or None
        Mass of fat, water and filling together that the sheet asks for [g].
    left_out : collection of str
        Keys that do not read somewhere: sums that may hang on them are not looked at.

    Notes
    -----
    What only the whole weigh list shows (too long, two of one name) is not looked at here.
    """
    made = [one.name for one in recipes]
    found = [
        *_names(made),
        *(wrong for key, part in _parts(entries, recipes) for wrong in _of_part(key, part, made)),
        *circles(recipes),
    ]
    told = {wrong.key for wrong in found}
    for place, recipe in enumerate(recipes, start=1):
        try:
            made_of(f"subrecipe[{place}]", recipe)
        except AtKeyError as cause:
            found += [cause] if cause.key not in told else []
    found += [one for one in _of_batch(entries, batch_g, left_out) if one.key not in told]
    return found


def _parts(entries: Sequence[Entry], recipes: Sequence[Subrecipe]) -> Iterator[tuple[str, Part]]:
    for place, one in enumerate(entries, start=1):
        yield own_key(place), one
    for place, recipe in enumerate(recipes, start=1):
        for number, part in enumerate(recipe.ingredient, start=1):
            yield f"subrecipe[{place}].ingredient[{number}]", part


def _of_part(key: str, part: Part, made: Sequence[str]) -> Iterator[AtKeyError]:
    try:
        amount_at(key, part)
    except AtKeyError as cause:
        yield cause
    if part.subrecipe is not None and part.subrecipe not in made:
        found = f"no sub-recipe {part.subrecipe!r}"
        yield AtKeyError(f"{key}.subrecipe", found, no_such(made))


def _names(made: Sequence[str]) -> Iterator[AtKeyError]:
    for place, name in enumerate(made, start=1):
        if name in made[: place - 1]:
            key = f"subrecipe[{place}].name"
            yield AtKeyError(key, f"{name!r} is used twice", "give each its own")


def circles(recipes: Sequence[Subrecipe]) -> list[AtKeyError]:
    """Return every circle of sub-recipes, at the ingredient that closes it.

    Parameters
    ----------
    recipes : sequence of Subrecipe
        Sub-recipes; names that stand for none are passed over.
    """
    needs = {
        recipe.name: [
            (f"subrecipe[{place}].ingredient[{number}].subrecipe", part.subrecipe)
            for number, part in enumerate(recipe.ingredient, start=1)
            if part.subrecipe is not None
        ]
        for place, recipe in enumerate(recipes, start=1)
    }
    found, seen = list[AtKeyError](), set[str]()

    def walk(name: str, path: list[str]) -> None:
        for where, needed in needs[name]:
            if needed in path:
                said = " → ".join([*path[path.index(needed) :], needed])
                found.append(AtKeyError(where, f"a circle: {said}", "take one of them out"))
            elif needed in needs and needed not in seen:
                walk(needed, [*path, needed])
        seen.add(name)

    for name in needs:
        if name not in seen:
            walk(name, [name])
    return found


def _of_batch(
    entries: Sequence[Entry], batch_g: float | None, left_out: Collection[str]
) -> list[AtKeyError]:
    """Return what is wrong with the amounts of the batch, as lines and as sums."""
    found, lines, unknown = list[AtKeyError](), list[Line](), set[str]()
    labels = labels_of(entries)
    for place, entry in enumerate(entries, start=1):
        try:
            line = entry_line(own_key(place), entry)
        except AtKeyError as cause:
            found.append(cause)
            unknown |= {f"phase {entry.phase}"}
            unknown |= {"batch"} if entry.phase in FOOD else set()
            unknown |= {"base"} if entry.base else set()
            continue
        lines += [line] if line is not None else []
    if not {"phase", "base"}.intersection(left_out):
        found += share_wrongs([one for one in labels if one not in unknown], lines, labels)
    if not found and not left_out:
        try:
            entry_masses_g(entries, batch_g)
        except AtKeyError as cause:
            found.append(cause)
    return found

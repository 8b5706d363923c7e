"""What a sheet says of its ingredients beside their masses, in words for its papers.

Pure text. What the sheet does not say is left out, never made up.
"""

from collections.abc import Callable

from logger.batch.holds import allergens_of
from logger.model.recipe.entry import Part, Subrecipe
from logger.model.sheet import Sheet
from logger.review.why.explanation import capital
from logger.words.dates import date_text
from logger.words.values import exact_text, value_text, weighed_text


def change_text(sheet: Sheet) -> str:
    """Say what the revision changes and why; empty where the sheet does not."""
    parts = [text for text in (sheet.sheet.change, sheet.sheet.why) if text]
    return capital(": ".join(parts))


def allergens_text(sheet: Sheet) -> str:
    """Say what allergens are written on a sheet, and of what nothing is; empty for neither."""
    found = allergens_of(sheet)
    if found is None:
        return ""
    listed = "; ".join(f"{name} ({', '.join(of)})" for name, of in found.found.items())
    said = [f"Allergens as written: {listed}." if listed else "No allergen is written."]
    if found.untold:
        said.append(f"Nothing is written for {', '.join(found.untold)}: read their labels.")
    return " ".join(said)


def comes_to(recipe: Subrecipe) -> str:
    """Say what a sub-recipe gives; empty where the sheet does not."""
    if recipe.yield_g is not None:
        return f"comes to {weighed_text(recipe.yield_g)}"
    if recipe.loss_percent is not None:
        return f"loses {value_text(recipe.loss_percent, '%')}"
    return ""


def instead_text(part: Part) -> str:
    """Say what may stand in for an ingredient and how much of it; empty for nothing."""
    return "; ".join(
        f"or {other.name}, {_in_one_line(part.mass_g * other.ratio_percent / 100.0)}"
        if part.mass_g is not None
        else f"or {other.name}"
        for other in part.alternative
    )


def _in_one_line(mass_g: float) -> str:
    """Return a mass that no line of a paper parts from its unit."""
    return weighed_text(mass_g).replace(" ", "\u00a0")


def bought_text(part: Part, write: Callable[[float, str], str] = exact_text) -> str:
    """Say what an ingredient is like as it is bought; empty where the sheet does not.

    Parameters
    ----------
    part : Part
        The ingredient.
    write : callable
        Writes its temperature.
    """
    said = [part.group, part.grade]
    said.append(f"at {write(round(part.temp_c, 1), 'degC')}" if part.temp_c is not None else "")
    best = part.best_before
    said.append(f"best before {date_text(best.isoformat())}" if best is not None else "")
    return ", ".join(text for text in said if text)

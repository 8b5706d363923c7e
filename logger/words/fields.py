"""What the fields of a sheet are called, and what a form says beside them.

Pure text from the keys of the file.
"""

from collections.abc import Sequence

from logger.words.values import unit_text

_ENDS = {"low": "at least", "high": "at most"}
_SPELLED = {
    "ph": "pH",
    "id": "Short name",
    "ends": "Ended by",
    "planned": "Planned time",
    "text": "What to do",
    "batch": "Batch size",
    "why": "Why it changed",
    "change": "What changed",
    "loss": "Loss",
    "temp": "Temperature",
    "mix": "Mixing temperature",
    "pour_after": "Pour after",
    "pan_temp": "Pan",
    "oil_temp": "Oil",
    "subrecipe": "Sub-recipe",
    "base": "Counts in the base",
    "part": "Which portion",
    "by_taster": "By each taster",
    "ahead": "Made ahead",
    "holds": "Used for",
    "thickest": "Thickest coat",
    "channel": "Sensor",
    "ratio": "Mass used instead",
}
_CARDS = {
    "subrecipe": "sub-recipe",
    "subrecipe.ingredient": "ingredient",
    "ingredient.alternative": "alternative",
    "vessel": "vessel",
    "result": "result",
}


def field_text(key: str) -> str:
    """Return what a key of a sheet is called: ``"Fat fraction"`` for ``"fat_fraction"``."""
    return _SPELLED.get(key) or key.replace("_", " ").capitalize()


def card_title(table: str, named: str) -> str:
    """Return how a table is headed: by its name, else by what it is: ``"vessel"``.

    Parameters
    ----------
    table : str
        Such as ``"subrecipe"``.
    named : str
        Its name as it is written.
    """
    return named or _CARDS.get(table, table)


def path_text(path: Sequence[str]) -> str:
    """Return what a field is called with all that tells it apart: ``"Dwell, at least"``."""
    inner = [_ENDS.get(key) or key.replace("_", " ") for key in path[1:]]
    return ", ".join([field_text(path[0]), *inner])


def field_unit_text(unit: str) -> str:
    """Return the unit that stands beside a field; none for a time, whose unit is typed."""
    return "" if unit == "s" else unit_text(unit)


def ends_text(low: str, high: str) -> str:
    """Return a target from its ends as they are typed: ``"47 to 58 °C"``; the unit stands once."""
    ends = [_number_and_unit(end) for end in (low, high)]
    said = [f"{number} {unit_text(unit)}".strip() for number, unit in ends]
    if low and high:
        first = ends[0][0] if ends[0][1] == ends[1][1] else said[0]
        return f"{first} to {said[1]}"
    return f"at least {said[0]}" if low else f"at most {said[1]}"


def _number_and_unit(text: str) -> tuple[str, str]:
    """Return the number at the head of a typed quantity, and the rest."""
    number, _, unit = text.strip().partition(" ")
    return number.replace("-", "−"), unit.strip()


def only_in_text(keys: Sequence[str]) -> str:
    """Return what the form does not show: ``"2 more in the text: lot, grade"``; empty for none."""
    if not keys:
        return ""
    return f"{len(keys)} more in the text: {', '.join(key.replace('_', ' ') for key in keys)}"


def tables_in_text(tables: Sequence[tuple[str, int]]) -> str:
    """Return which tables the form does not show, and how many of each [1]; empty for none."""
    if not tables:
        return ""
    said = [f"{key.replace('_', ' ')} ({many})" if many > 1 else key.replace("_", " ")
            for key, many in tables]  # fmt: skip
    return f"Also in the text: {', '.join(said)}"


def wrong_text(label: str, found: str, wanted: str) -> str:
    """Return what is wrong at a field, with what would do if that is known.

    Parameters
    ----------
    label : str
        What the field is called; empty where the place says it.
    found : str
        What was found.
    wanted : str
        What would do; empty where `found` says it.
    """
    said = f"{label}: {found}" if label else found[:1].upper() + found[1:]
    return f"{said}. {wanted[:1].upper()}{wanted[1:]}." if wanted else f"{said}."

"""A list from a spreadsheet or a message as rows of ingredients.

Pure. Cells are taken as they are: nobody guesses what a decimal comma or a missing phase was to
be, the form says it at the field. A head row names the columns; a line that names a phase alone,
such as ``Fat phase:``, is the phase of those below it.
"""

import csv
import re
from collections.abc import Sequence

from logger.batch.form.changes import Change, with_points
from logger.batch.form.fields import PHASES
from logger.batch.form.heads import HEADS, PHASE_WORDS, TO_TASTE_WORDS, TOTAL_WORDS
from logger.batch.form.reading import IngredientRow, form_of
from logger.model.errors import InputError

MOST_PASTED = 100_000
"""Longest list [characters]."""
MOST_ROWS = 200
_KEYS = ("name", "phase", "amount", "tolerance", "price", "lot")
_UNIT_HEADS = ("g", "kg", "oz", "lb", "ml", "%")
_GRAMS = ("grams", "gramm", "grammes", "gramos", "grammi")
_FRACTIONS = dict(
    zip("½¼¾⅓⅔⅛⅜⅝⅞", (1 / 2, 1 / 4, 3 / 4, 1 / 3, 2 / 3, 1 / 8, 3 / 8, 5 / 8, 7 / 8), strict=True)
)
_VULGAR = "".join(_FRACTIONS)
_NUM = (
    rf"(?:(?:[0-9]{{1,4}}\s+)?[0-9]{{1,2}}/[0-9]{{1,2}}|(?:[0-9]{{1,4}}\s*)?[{_VULGAR}]"
    r"|[0-9][0-9.,]*(?:[eE][0-9]+)?)"
)
_SIGN = rf"(?:(?:minus\s*)?[-−]?\s?(?=[0-9{_VULGAR}]))?"
_SPAN = rf"{_SIGN}{_NUM}(?:\s*(?:-|–|to)\s*{_NUM})?"
_WORD = r"(?:%(?:\s+of\s+\w+)?|[A-Za-zµ]{1,9}\b\.?)"
_AMOUNT_FIRST = re.compile(
    rf"(?:[*•·]\s*|-\s+)?(?P<amount>{_SPAN}\s*{_WORD}|to taste)[\s:,]+(?:of\s+)?(?P<name>\S.*)"
)
_AMOUNT_LAST = re.compile(
    rf"(?:[*•·]\s*|-\s+)?(?P<name>\S.*?)[\s:,]+(?P<amount>{_SPAN}\s*{_WORD}|to taste)"
)
_NUMBER = re.compile(r"[0-9][0-9.,]*")
_POUNDS = re.compile(r"\b([0-9]{1,3})\s*lbs?\.?\s+(?:and\s+)?(1[0-5]|[0-9])\s*oz\b\.?")
_SECOND = re.compile(rf"{_NUM}\s*(?:kg|g|oz|lbs?|ml|l)\b")
_LIKE_AMOUNT = re.compile(rf"(?:minus\b|[-−+.]?\s*[0-9{_VULGAR}])", re.IGNORECASE)
_DECIMAL_COMMA = re.compile(
    r"(?<![0-9.,])[0-9]+,(?:[0-9]{1,2}|[0-9]{4,}|(?<=\b0,)[0-9]+)(?![0-9.,])"
)
_THOUSANDS = re.compile(r"(?<![0-9.,])([1-9][0-9]{0,2}(?:\.[0-9]{3})+)(?:,([0-9]+))?(?![0-9.,])")
_FRACTION = re.compile(rf"(?:([0-9]+)\s*)?([{_VULGAR}])")
_SLASHED = re.compile(r"(?:([0-9]{1,4})\s+)?([0-9]{1,2})/([0-9]{1,2})(?![0-9/])")


def rows_of(pasted: str) -> tuple[IngredientRow, ...]:
    """Return the ingredients of a list.

    Parameters
    ----------
    pasted : str
        Cells split by tabs, semicolons or commas with a head row, or lines such as ``180 g salt``.

    Raises
    ------
    InputError
        If it is too long, or no line of it names an ingredient.

    Notes
    -----
    A comma that may be one of thousands is left, and the field asks: see `with_points`. In a list
    that writes decimals with commas, points part thousands: ``1.250 g`` is 1250 g there. A last row
    that says what the others come to is no ingredient.
    """
    if len(pasted) > MOST_PASTED:
        raise InputError("pasted list", f"{len(pasted)} characters", f"at most {MOST_PASTED}")
    lines = [line.strip("\r\n ") for line in pasted.splitlines() if line.strip()]
    lines = [_POUNDS.sub(lambda m: f"{int(m[1]) + int(m[2]) / 16:g} lb", line) for line in lines]
    rows = (row[0].split("\t") if len(row) == 1 else row for row in _cells(lines))
    cells = [[cell.strip() for cell in row] for row in rows]
    heads = _heads(cells[0]) if cells else {}
    unit = _unit(cells[0], heads) if heads else ""
    body = cells[1:] if heads else cells
    if body and _is_total(body[-1], heads):
        body = body[:-1]
    if any(_DECIMAL_COMMA.search(cell) for row in body for cell in row):
        body = [[_THOUSANDS.sub(_whole, cell) for cell in row] for row in body]
    phase, found = "", list[IngredientRow]()
    for row in body:
        filled = [cell for cell in row if cell]
        if len(filled) == 1 and (named := _phase(filled[0])) is not None:
            phase = named
            continue
        one = _row(row, heads, unit, phase, len(found))
        if one.name:
            found.append(one)
    if not found:
        raise InputError("pasted list", "no ingredient", "paste lines such as '180 g butter'")
    if len(found) > MOST_ROWS:
        raise InputError("pasted list", f"{len(found)} ingredients", f"at most {MOST_ROWS}")
    return tuple(found)


def pasted_changes(text: str, pasted: str, row: int, column: str) -> tuple[Change, ...]:
    """Return the changes that a paste into the form makes.

    A single column goes down from the row that has the focus, as in a spreadsheet, new rows where
    there are no more; anything else is a list of ingredients and goes behind the last one.

    Parameters
    ----------
    text : str
        Text of the sheet.
    pasted : str
        What is pasted.
    row : int
        Place of the row with the focus, counted from zero; -1 for none.
    column : str
        Key of its column.

    Raises
    ------
    InputError
        As `rows_of`, or if the text is no TOML.
    """
    many = len(form_of(text, "sheet").ingredients)
    values = [line.strip() for line in pasted.splitlines()] if len(pasted) <= MOST_PASTED else []
    single = column in _KEYS and row >= 0 and not any("\t" in line for line in values)
    if not single or not values or (column == "name" and _is_list(values)):
        return added(rows_of(pasted), many - 1)
    if len(values) > MOST_ROWS:
        raise InputError("pasted cells", f"{len(values)} rows", f"at most {MOST_ROWS}")
    values = [_plain(value) for value in values] if column == "amount" else values
    here, rest = values[: max(many - row, 0)], values[max(many - row, 0) :]
    down = tuple(
        Change(act="set", table="ingredient", place=row + n, path=(column,), value=value)
        for n, value in enumerate(here)
    )
    new = tuple(
        Change(act="add", table="ingredient", place=many + n, values=((column, value),))
        for n, value in enumerate(rest)
    )
    return (*down, *new)


def _is_list(lines: Sequence[str]) -> bool:
    """Return whether lines say more than names: amounts, or phases above others."""
    said = [_from_line(line) for line in lines if line]
    return any("amount" in one for one in said) or any(_phase(line) is not None for line in lines)


def added(rows: Sequence[IngredientRow], behind: int) -> tuple[Change, ...]:
    """Return the changes that add rows to a form.

    Parameters
    ----------
    rows : sequence of IngredientRow
        What is added.
    behind : int
        Place of the row behind which they go, counted from zero; -1 where there is none.
    """
    return tuple(
        Change(
            act="add",
            table="ingredient",
            place=max(n, 0),
            values=tuple((key, v) for key in _KEYS if (v := str(getattr(row, key)))),
        )
        for n, row in enumerate(rows, start=behind)
    )


def _cells(lines: Sequence[str]) -> list[list[str]]:
    for split in ("\t", ";", "|"):
        if sum(split in line for line in lines) * 2 > len(lines):
            return list(csv.reader(lines, delimiter=split))
    first = next(csv.reader(lines[:1]), [])
    if len(first) > 1 and len(_heads(first)) > 1:
        return list(csv.reader(lines))
    return [[line] for line in lines]


def _is_total(row: Sequence[str], heads: dict[str, int]) -> bool:
    said = row[heads["name"]] if heads and heads["name"] < len(row) else ""
    if not heads:
        filled = [cell for cell in row if cell]
        said = (_from_cells(row) if len(filled) > 1 else _from_line("".join(filled)))["name"]
    return said.strip(" :=").casefold() in TOTAL_WORDS


def _whole(found: re.Match[str]) -> str:
    """Return a number without the points of its thousands."""
    return found[1].replace(".", "") + (f".{found[2]}" if found[2] else "")


def _plain(amount: str) -> str:
    """Return an amount with fractions as decimals."""
    amount = _FRACTION.sub(lambda m: f"{int(m[1] or 0) + _FRACTIONS[m[2]]:.4g}", amount)
    return _SLASHED.sub(_divided, amount)


def _divided(found: re.Match[str]) -> str:
    whole, over, under = int(found[1] or 0), int(found[2]), int(found[3])
    return f"{whole + over / under:.4g}" if 0 < over < under else found[0]


def _heads(row: Sequence[str]) -> dict[str, int]:
    """Return the columns by what they hold; empty where the row is no head."""
    found: dict[str, int] = {}
    for place, cell in enumerate(row):
        said = re.sub(r"\s*[\[(].*?[\])]", "", cell).strip().casefold()
        key = next((key for key, words in HEADS.items() if said in words), None)
        if key is not None:
            found.setdefault(key, place)
    return found if "name" in found else {}


def _unit(row: Sequence[str], heads: dict[str, int]) -> str:
    """Return the unit that the head of the amounts names: ``g`` or ``Amount (g)``."""
    cell = row[heads["amount"]] if "amount" in heads else ""
    inside = re.search(r"[\[(]\s*([^\])]+?)\s*[\])]", cell)
    return _unit_said(inside[1] if inside else cell)


def _unit_said(text: str) -> str:
    said = text.strip(" .").casefold()
    return "g" if said in _GRAMS else said if said in _UNIT_HEADS else ""


def _phase(cell: str) -> str | None:
    said = cell.strip(" :").casefold()
    said = PHASE_WORDS.get(said, said).removesuffix(" phase").removesuffix(" bath")
    said = "bath" if said in ("calcium", "setting") else said
    return said if said in PHASES else None


def _row(
    row: Sequence[str], heads: dict[str, int], unit: str, phase: str, place: int
) -> IngredientRow:
    if heads:
        said = {key: row[at] for key, at in heads.items() if at < len(row)}
    elif len([cell for cell in row if cell]) == 1:
        said = _from_line(next(cell for cell in row if cell))
    else:
        said = _from_cells(row)
    name, amount = said.get("name", ""), said.get("amount", "")
    if amount.casefold() in TO_TASTE_WORDS:
        amount = "to taste"
    amount = with_points(_plain(amount))
    unit = _unit_said(said.get("unit", "")) or unit
    if _NUMBER.fullmatch(amount):
        # Three eggs are not three grams: without a unit the number stays with the name, to be seen.
        name, amount = (name, f"{amount} {unit}") if unit else (f"{name} {amount}".strip(), "")
    own = _phase(said.get("phase", ""))
    return IngredientRow(
        place=place,
        name=name,
        phase=said.get("phase", "") if own is None and said.get("phase") else own or phase,
        amount=amount,
        tolerance=said.get("tolerance", ""),
        price=said.get("price", ""),
        lot=said.get("lot", ""),
    )


def _from_line(line: str) -> dict[str, str]:
    for form in (_AMOUNT_FIRST, _AMOUNT_LAST):
        found = form.fullmatch(line)
        if found is not None and not _SECOND.match(found["name"]):  # two masses: ask
            return {"name": found["name"].strip(), "amount": found["amount"].strip()}
    return {"name": line}


def _taste(cell: str) -> bool:
    return cell.casefold() in TO_TASTE_WORDS


def _from_cells(row: Sequence[str]) -> dict[str, str]:
    """Return name and amount of cells without a head; a unit in a cell of its own joins in."""
    filled = [cell for cell in row if cell]
    names = (cell for cell in filled if not _LIKE_AMOUNT.match(cell) and not _taste(cell))
    name = next(names, "")
    rest = [cell for cell in filled if cell is not name]
    said = {"name": name}
    phase = next((cell for cell in rest if _phase(cell)), None)
    if phase is not None:
        said["phase"] = phase
        rest.remove(phase)
    if rest:
        amount = rest[0]
        if (
            len(rest) > 1
            and rest[1].casefold() in _UNIT_HEADS
            and _NUMBER.fullmatch(_plain(amount))
        ):
            amount = f"{amount} {rest[1]}"
        said["amount"] = amount
        if rest[-1] is not rest[0] and rest[-1].endswith("%"):
            said["tolerance"] = rest[-1]
    return said

"""Results that a sheet declares, as a person types them.

Pure; used by the command and the page that say how a batch came out. What may be said is checked
for all doors by logger.control.acts.
"""

from collections.abc import Sequence

from logger.model.errors import InputError
from logger.model.quantity import quantity_at
from logger.model.rows import ResultRow
from logger.model.sheet import DeclaredResult
from logger.words.values import exact_text

_BY = " by "
_AS_PINT = {"%": "percent", "": "dimensionless"}


def typed_results(texts: Sequence[str], declared: Sequence[DeclaredResult]) -> list[ResultRow]:
    """Return results in the units of the sheet.

    Parameters
    ----------
    texts : sequence of str
        As typed: ``"cook loss=12.4 %"``; a score has its taster: ``"bite=7 by Ada"``.
    declared : sequence of DeclaredResult
        Those of the sheet.

    Raises
    ------
    InputError
        If a text has another form, another name, or a unit that measures something else.
    """
    by_name = {one.name: one for one in declared}
    found = []
    for text in texts:
        name, equals, said = (part.strip() for part in text.partition("="))
        if not equals or not name or not said:
            raise InputError("--result", repr(text), "write 'cook loss=12.4 %'")
        one = by_name.get(name)
        if one is None:
            known = (
                f"write one of {', '.join(by_name)}"
                if by_name
                else "the sheet lists none; add a [[result]] table to it"
            )
            raise InputError("--result", f"no result {name!r}", known)
        found.append(typed_result(f"--result {name}", said, one))
    return found


def typed_result(where: str, said: str, one: DeclaredResult) -> ResultRow:
    """Return one result in the unit of the sheet.

    Parameters
    ----------
    where : str
        What the person calls the place.
    said : str
        As typed: ``"12.4 %"``; a score has its taster: ``"7 by Ada"``.
    one : DeclaredResult
        The result, as the sheet has it.

    Raises
    ------
    InputError
        If the text has another form, or a unit that measures something else.
    """
    value, _, by = said.partition(_BY) if one.by_taster else (said, "", "")
    number = quantity_at(where, value.strip(), _AS_PINT.get(one.unit, one.unit))
    return ResultRow(name=one.name, value=number, unit=one.unit, by=by.strip())


def result_text(row: ResultRow) -> str:
    """Write a result: ``"cook loss 12.4 %"``, ``"bite 7 by Ada"``."""
    return f"{row.name} {exact_text(row.value, row.unit)}{f'{_BY}{row.by}' if row.by else ''}"

"""What the sheet of a run lets an act say: its stages, its defects; and that a note says something.

Pure. The one check for all doors: the control line, the commands, and files of events. A request
was checked by itself before (``requests``).
"""

import math
from collections.abc import Collection, Iterable

from logger.control.door import SHOWN
from logger.control.requests import Act, Note, Outcome, ResultSaid, Stage
from logger.model.errors import InputError
from logger.model.rows import ResultRow
from logger.model.sheet import DeclaredResult, Sheet
from logger.words.bands import band_text
from logger.words.values import exact_text

NO_STAGES = "add a stage first, on the Sheets page or as a [[stage]] table"


def require_known(act: Act, sheet: Sheet) -> None:
    """Refuse an act that names a stage, a defect or a result that the sheet does not have.

    Raises
    ------
    InputError
        With what the sheet has.
    """
    if isinstance(act, Note) and not act.text.strip():
        raise InputError(act.do, "the note is empty", "write something")
    ids = [s.id for s in sheet.stage]
    if isinstance(act, Stage) and act.stage not in ids:
        wanted = f"stages are {', '.join(ids) or 'none'}"
        raise InputError(act.do, f"no stage {act.stage[:SHOWN]!r}", wanted)
    if isinstance(act, Outcome):
        known = [*sheet.sheet.defects, *act.new_defects]
        require_outcome(act.do, act.outcome, act.defects, known)
        for one in act.pieces:
            require_defects(act.do, one.defects, known)
        require_rejected(act.do, act.outcome, act.because)
        for said in act.results:
            require_result(act.do, said, sheet.result)


def require_stages(where: str, sheet: Sheet) -> None:
    """Refuse a batch of a sheet without stages: a recipe that is still to be made into a plan.

    Parameters
    ----------
    where : str
        Where it was asked, for the message.
    sheet : Sheet
        Of the batch.

    Raises
    ------
    InputError
        With what to do.
    """
    if not sheet.stage:
        found = f"{sheet.sheet.name!r} has no stages, so nothing would be judged"
        raise InputError(where, found, NO_STAGES)


def require_rejected(where: str, outcome: str | None, because: str | None) -> None:
    """Refuse the cause of a batch that is not rejected.

    Parameters
    ----------
    where : str
        Where it was given, for the message.
    outcome : str or None
        ``accepted`` or ``rejected``; None is not known.
    because : str or None
        The cause that was given.

    Raises
    ------
    InputError
        With what was found.
    """
    if because and outcome != "rejected":
        found = f"the cause of a batch that is {outcome or 'not rejected'}"
        raise InputError(where, found, "reject it, or leave the cause out")


def require_result(
    where: str, said: ResultSaid | ResultRow, declared: Iterable[DeclaredResult]
) -> None:
    """Refuse a result that the sheet does not declare, or that it cannot be.

    Parameters
    ----------
    where : str
        Where it was given, for the message.
    said : ResultSaid or ResultRow
        What was given.
    declared : iterable of DeclaredResult
        Those of the sheet.

    Raises
    ------
    InputError
        With what the sheet has.
    """
    by_name = {one.name: one for one in declared}
    one = by_name.get(said.name)
    if one is None:
        known = (
            f"write one of {', '.join(by_name)}"
            if by_name
            else "the sheet lists none; add a [[result]] table"
        )
        raise InputError(where, f"no result {said.name[:SHOWN]!r}", known)
    if said.unit != one.unit:
        found = f"{one.name} in {said.unit[:SHOWN] or 'no unit'}"
        raise InputError(where, found, f"give it {f'in {one.unit}' if one.unit else 'without one'}")
    if one.by_taster != bool(said.by.strip()):
        found = f"{one.name} {'by nobody' if one.by_taster else f'by {said.by[:SHOWN]}'}"
        wanted = "say who tasted" if one.by_taster else "it has no taster"
        raise InputError(where, found, wanted)
    low = -math.inf if one.low is None else one.low
    high = math.inf if one.high is None else one.high
    if not low <= said.value <= high:
        found = f"{one.name} {exact_text(said.value, one.unit)}"
        raise InputError(where, found, f"it is {band_text(one.low, one.high, one.unit)}")


def require_outcome(
    where: str, outcome: str | None, defects: Collection[str], known: Collection[str]
) -> None:
    """Refuse defects of a batch that is not rejected, or that the sheet does not list.

    Parameters
    ----------
    where : str
        Where they were given, for the message.
    outcome : str or None
        ``accepted`` or ``rejected``; None is not known.
    defects : collection of str
        What was given.
    known : collection of str
        Defects of the sheet.

    Raises
    ------
    InputError
        With what was found.
    """
    require_defects(where, defects, known)
    if defects and outcome != "rejected":
        found = f"a batch with defects that is {outcome or 'not rejected'}"
        raise InputError(where, found, "reject it, or leave the defects out")


def require_defects(where: str, defects: Iterable[str], known: Collection[str]) -> None:
    """Refuse a defect that the sheet does not list.

    Parameters
    ----------
    where : str
        Where it was given, for the message.
    defects : iterable of str
        What was given.
    known : collection of str
        Defects of the sheet.

    Raises
    ------
    InputError
        With those that it lists.
    """
    for defect in defects:
        if defect not in known:
            has = f"the sheet lists {', '.join(known) or 'none'}"
            raise InputError(where, f"{defect[:SHOWN]!r} is not in the sheet", has)

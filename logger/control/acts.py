"""What the sheet of a run lets an act say: its stages, its defects; and that a note says something.

Pure. The one check for all doors: the control line, the commands, and files of events. A request
was checked by itself before (``requests``).
"""

from collections.abc import Collection, Iterable

from logger.control.door import SHOWN
from logger.control.requests import Act, Note, Outcome, Stage
from logger.model.errors import InputError
from logger.model.sheet import Sheet


def require_known(act: Act, sheet: Sheet) -> None:
    """Refuse an act that names a stage or a defect that the sheet does not have.

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
        require_outcome(act.do, act.outcome, act.defects, sheet.sheet.defects)
        for one in act.pieces:
            require_defects(act.do, one.defects, sheet.sheet.defects)


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
        raise InputError(where, found, "say rejected, or leave the defects out")


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
            has = "it has " + (", ".join(known) or "none")
            raise InputError(where, f"{defect[:SHOWN]!r} is not in the sheet", has)

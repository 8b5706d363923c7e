"""A command on its way from the control line to the writer thread and back."""

from concurrent.futures import Future
from dataclasses import dataclass, field
from typing import Any

from logger.model.errors import InputError
from logger.model.event import OPERATOR_KINDS
from logger.model.sheet import Sheet


@dataclass(slots=True)
class Command:
    """What was asked, and where the answer goes once it is committed."""

    do: str
    data: dict[str, Any]
    answer: "Future[Any]" = field(default_factory=Future)


def check(do: str, data: dict[str, Any], sheet: Sheet | None, stage: str | None) -> None:
    """Refuse a command that cannot mean anything now, before it becomes an event.

    Parameters
    ----------
    sheet : Sheet or None
        Sheet of the run under way; None when none is.
    stage : str or None
        Stage under way.

    Raises
    ------
    InputError
        With the reason.
    """
    if do not in OPERATOR_KINDS or do == "run_start":
        raise InputError(do, "is no command", "see DEVELOPERS.md, commands")
    if sheet is None:
        raise InputError(do, "no run is being recorded", "start one first")
    ids = [s.id for s in sheet.stage]
    if do == "stage" and data.get("stage") not in ids:
        raise InputError(do, f"no stage {data.get('stage')!r}", f"stages are {', '.join(ids)}")
    if do == "next" and (not ids or stage == ids[-1]):
        raise InputError(do, "this is the last stage", "end the run when the batch is done")
    if do == "note" and not str(data.get("text", "")).strip():
        raise InputError(do, "the note is empty", "write something")
    for key, kind in _NEEDS.get(do, {}).items():
        if not isinstance(data.get(key), kind) or isinstance(data.get(key), bool):
            raise InputError(do, f"{key} is {data.get(key)!r}", f"give {key} as {kind}")


_NUMBER = int | float
_NEEDS: dict[str, dict[str, Any]] = {
    "confirm_piece": {"immersion": int, "piece": int},
    "piece_in": {"piece": int},
    "piece_out": {"piece": int},
    "register_piece": {"piece": int, "mass_g": _NUMBER},
    "ack": {"alarm": str},
    "shelve": {"alarm": str, "for_s": _NUMBER},
    "unshelve": {"alarm": str},
    "reset_latch": {"alarm": str},
    "out_of_service": {"alarm": str},
    "in_service": {"alarm": str},
    "accept": {"proposal": str},
    "decline": {"proposal": str},
    "set_value": {"name": str, "value": _NUMBER},
}

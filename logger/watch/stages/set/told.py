"""What a bath tells beside the board: the needed dwell, calcium, what it lacks; and its alarms.

Pure; used by the bath watcher.
"""

from collections.abc import Sequence

from logger.science.calcium.inventory import refresh_advice
from logger.science.calcium.salts import WAIT_FOR_TEMPERATURE
from logger.science.gel.dwell import NeededDwell
from logger.watch.engine.contract import Condition
from logger.watch.stages.set.board import Piece, clock
from logger.watch.stages.set.skin import SkinClock


def lines(
    pieces: Sequence[Piece],
    skin: SkinClock,
    needed: NeededDwell | None,
    *,
    high_s: float | None,
    weighed: int,
    expected: int | None,
) -> list[str]:
    """Return the sentences under the board.

    Parameters
    ----------
    pieces : sequence of Piece
        All rows.
    skin : SkinClock
        Knows the bath.
    needed : NeededDwell or None
        Of the thickest coat.
    high_s : float or None
        The sheet's longest dwell [s].
    weighed, expected : int, int or None
        How many pieces have a mass, and how many there are.
    """
    told = [skin.refused] if skin.refused else []
    if any(p.unsure and p.matters and not p.inside for p in pieces):
        told.append("Which piece came out is not sure; tap to say, or weigh it on its way out.")
    if weighed and expected is not None and weighed < expected:
        told.append(
            f"Only {weighed} of {expected} pieces were weighed: they are numbered as they go in."
        )
    if needed is not None:
        says = needed.says()
        told.append(says[0].upper() + says[1:] + ".")
        if high_s is not None and needed.likely_s > high_s:
            told.append(
                f"The sheet's longest dwell, {clock(high_s)}, will likely not set it through: warm "
                "or strengthen the bath, or let it go on."
            )
    if skin.now is not None and skin.known:
        advice = refresh_advice(skin.now)
        told.append(advice.reason[0].upper() + advice.reason[1:] + ".")
    if skin.missing:
        told.append(
            f"How far a skin has set is not told: the sheet lacks {', '.join(skin.missing)}."
        )
    told.append(WAIT_FOR_TEMPERATURE)
    return told


def conditions(
    stage_id: str,
    pieces: Sequence[Piece],
    now_s: float,
    *,
    high_s: float | None,
    refused: str,
    channel: str | None,
) -> list[Condition]:
    """Return what calls for action: a piece that is overdue, a bath that cannot set its coats."""
    found, over_of = [], dict[str, bool]()
    for piece in pieces if high_s is not None else ():
        # A piece that was in before may be in again: one alarm a piece.
        over = over_of.get(piece.name, False) or piece.status(now_s) == "overdue"
        over_of[piece.name] = over
    for name, over in over_of.items():
        found.append(
            Condition(
                id=f"{stage_id}.{name.lower().replace(' ', '')}.overdue",
                text=f"{name} is too long in the bath: take it out",
                active=over,
                cleared=not over,
                on_delay_s=2.0,
                off_delay_s=1.0,
                channel=channel,
            )
        )
    if refused:
        found.append(
            Condition(
                id=f"{stage_id}.cannot_set", text=refused, active=True, cleared=False,
                channel=channel,
            )
        )  # fmt: skip
    return found

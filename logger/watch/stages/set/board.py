"""The bath board, the sentence above it, the notes below it, and the alarms of a bath stage.

Pure; used by the bath watcher. Words `pieces.Piece`: each piece, what is due next, what is overdue.
Times are seconds on the run's axis.
"""

import math
from collections.abc import Mapping, Sequence

from logger.model.state import BoardRow, Tone
from logger.science.calcium.inventory import refresh_advice
from logger.science.calcium.salts import WAIT_FOR_TEMPERATURE
from logger.science.gel.dwell import NeededDwell
from logger.watch.engine.contract import Condition
from logger.watch.stages.set.pieces import Piece
from logger.watch.stages.set.skin import SkinClock
from logger.words.durations import about, about_span, clock, exact_duration
from logger.words.values import percent_text
from logger.words.verdicts import verdict_text

SOON_S = 20.0
"""A piece is called this long before it is due [s]: time to dry a hand."""


def board(
    pieces: list[Piece], now_s: float, verdicts: Mapping[int, str] | None = None
) -> list[BoardRow]:
    """Return the rows of the board: pieces in by what is due next, then those out.

    Parameters
    ----------
    pieces : list of Piece
        All rows.
    now_s : float
        Now [s].
    verdicts : mapping, optional
        Verdict of each dwell by the number of its row.
    """
    judged = verdicts or {}

    def order(piece: Piece) -> tuple[bool, float, int]:
        due_s = piece.due_in_s(now_s)
        return (not piece.inside, due_s if due_s is not None else 0.0, piece.row.number)

    rows = sorted(pieces, key=order)
    return [_row(p, now_s, judged.get(p.row.number, "not measured")) for p in rows]


def _row(piece: Piece, now_s: float, verdict: str) -> BoardRow:
    row = piece.row
    left = piece.left_range_s
    return BoardRow(
        immersion=row.number,
        piece=piece.number,
        in_s=row.in_s,
        out_s=row.out_s,
        dwell_s=piece.age_s(now_s),
        low_s=piece.low_s,
        high_s=piece.high_s,
        set_fraction=piece.set_fraction,
        left_s=left,
        due_in_s=piece.due_in_s(now_s),
        says=_says(piece, left, now_s),
        status=piece.status(now_s),
        candidates=[c.dwell_s for c in row.candidates],
        out_between_s=row.out_between_s,
        dwell_between_s=row.dwell_between_s,
        verdict=verdict,
    )


def _says(piece: Piece, left: tuple[float, float] | None, now_s: float) -> str:
    if piece.row.out_between_s is not None:
        return f"out between {' and '.join(map(clock, piece.row.out_between_s))}"
    if piece.unsure and not piece.inside:
        dwells = sorted({c.dwell_s for c in piece.row.candidates} | {piece.row.dwell_s or 0.0})
        listed = " or ".join(about(dwell_s) for dwell_s in dwells if dwell_s > 0.0)
        return f"which piece? in for {listed}" if listed else "which piece?"
    if piece.set_fraction is None:
        return ""
    if piece.set_fraction >= 1.0:
        # The share is that of the likely coat: only past the range of the needed time is it sure.
        age_s, needed = piece.age_s(now_s), piece.needed
        sure = needed is None or age_s is None or age_s >= needed.high_s
        return "skin set through" if sure else "skin likely set through"
    says = f"skin {percent_text(piece.set_fraction)} through"
    return f"{says}, {about_span(*left)} more" if left is not None else says


def sentence(
    pieces: list[Piece],
    now_s: float,
    expected: int | None,
    verdicts: Mapping[int, str] | None = None,
) -> tuple[str, Tone]:
    """Return what to do now, and its tone.

    Parameters
    ----------
    pieces : list of Piece
        All rows.
    now_s : float
        Now [s].
    expected : int or None
        How many pieces there are, if known.
    verdicts : mapping, optional
        Verdict of each dwell by the number of its row.
    """
    inside = [p for p in pieces if p.inside]
    late = [p for p in inside if p.status(now_s) == "overdue"]
    due = [p for p in inside if p.status(now_s) == "due"]
    if late:
        return f"{_names(late)} too long in the bath: take out now.", "stop"
    if due:
        return f"{_names(due)} due: take out, shake once, hold three seconds.", "do"
    if not pieces:
        return "Put the pieces into the bath, one after the other.", "do"
    if not inside:
        through = len({p.row.piece for p in pieces})
        if expected is not None and through < expected:
            verb = "is" if through == 1 else "are"
            return f"{through} of {expected} pieces {verb} through. Put the next one in.", "do"
        return _all_out(pieces, verdicts or {})
    timed = [(p.due_in_s(now_s), p) for p in inside]
    known = [(d, p) for d, p in timed if d is not None]
    if not known:
        return f"{len(inside)} in the bath; nothing says how long.", "wait"
    due_s, first = min(known, key=lambda pair: pair[0])
    if due_s <= SOON_S:
        return f"{first.name} next, in {about(due_s)}.", "do"
    return f"{first.name} is next, in {about(due_s)}.", "wait"


def _all_out(pieces: list[Piece], verdicts: Mapping[int, str]) -> tuple[str, Tone]:
    """Say that all are out, and of which the dwell is not as the sheet wants it, or not known."""
    amiss = {
        verdict: sorted({p.row.piece for p in pieces if verdicts.get(p.row.number) == verdict})
        for verdict in ("not met", "undecided", "not measured")
    }
    told = [
        f"{verdict_text(verdict)} for {'piece' if len(found) == 1 else 'pieces'} {_listed(found)}"
        for verdict, found in amiss.items()
        if found
    ]
    says = "All pieces are out of the bath."
    return (f"{says} Dwell {'; '.join(told)}.", "warn") if told else (says, "calm")


def _listed(numbers: Sequence[int]) -> str:
    *most, last = map(str, numbers)
    return f"{', '.join(most)} and {last}" if most else last


def _names(pieces: list[Piece]) -> str:
    numbers = sorted(p.row.piece for p in pieces)
    if len(numbers) == 1:
        return f"Piece {numbers[0]} is"
    return f"Pieces {_listed(numbers)} are"


def notes(
    pieces: Sequence[Piece],
    skin: SkinClock,
    needed: NeededDwell | None,
    *,
    low_s: float | None,
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
    low_s, high_s : float or None
        The sheet's shortest and longest dwell [s].
    weighed, expected : int, int or None
        How many pieces have a mass, and how many there are.
    """
    lines = [skin.refused] if skin.refused else []
    if any(p.unsure and p.matters and not p.inside for p in pieces):
        lines.append("Which piece came out is not sure; tap to say, or weigh it on its way out.")
    if weighed and expected is not None and weighed < expected:
        lines.append(
            f"Only {weighed} of {expected} pieces were weighed: they are numbered as they go in."
        )
    still_needed = not pieces or any(p.inside for p in pieces)
    if needed is not None and still_needed:
        lines += _dwell_notes(needed, low_s, high_s)
    if skin.now is not None and skin.known:
        advice = refresh_advice(skin.now)
        lines.append(advice.reason[0].upper() + advice.reason[1:] + ".")
    if skin.missing:
        lines.append(
            f"How far a skin has set is unknown: the sheet lacks {', '.join(skin.missing)}."
        )
    lines.append(WAIT_FOR_TEMPERATURE)
    return lines


def _dwell_notes(needed: NeededDwell, low_s: float | None, high_s: float | None) -> list[str]:
    """Say what the skin needs; pieces are called by the sheet where it has a window [s].

    One order at a time: where the two differ, the page says so and keeps to the sheet.
    """
    says = needed.says() if low_s is None and high_s is None else needed.needs()
    lines = [says[0].upper() + says[1:] + "."]
    if high_s is not None and needed.likely_s > high_s:
        lines.append(
            f"The sheet's longest dwell, {exact_duration(high_s)}, will probably not set it "
            "through. Each piece is still called at the sheet's time; for the next batch warm or "
            "strengthen the bath, or let the sheet give them longer."
        )
    elif high_s is not None and needed.advised_s > high_s:
        lines.append(
            f"The sheet's longest dwell, {exact_duration(high_s)}, may not set it through: "
            f"only {exact_duration(math.ceil(needed.advised_s))} is surely long enough. "
            "Each piece is still called at the sheet's time."
        )
    elif low_s is not None and needed.advised_s > low_s:
        lines.append(
            f"The sheet's shortest dwell, {exact_duration(low_s)}, may not set it through: "
            f"a piece is called after {about(needed.advised_s)}."
        )
    return lines


def alarm_conditions(
    stage_id: str,
    pieces: Sequence[Piece],
    now_s: float,
    *,
    high_s: float | None,
    refused: str,
    channel: str | None,
) -> list[Condition]:
    """Return what calls for action: a piece that is overdue, a bath that cannot set its coats.

    Parameters
    ----------
    stage_id : str
        Of the bath stage; heads the conditions' ids.
    pieces : sequence of Piece
        All rows.
    now_s : float
        Now [s].
    high_s : float or None
        The sheet's longest dwell [s].
    refused : str
        Why the bath cannot set the coats; empty when it can.
    channel : str or None
        The bath scale.
    """
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
                done_acknowledges=True,
                channel=channel,
            )
        )
    if refused:
        found.append(
            Condition(
                id=f"{stage_id}.cannot_set",
                text=refused,
                active=True,
                cleared=False,
                channel=channel,
            )
        )
    return found

"""Dwells of a bath under clumsy hands, through the whole engine: `tests.virtual.clumsy_bath`.

pieces   sessions with as many immersions as there were; one that lies wholly within one gap of the
         scale can't be seen and does not count.
right    dwells within 2 s; where a gap hides an end, an interval that holds the dwell.
inside   those that are right, and those left undecided with the true dwell among the others listed:
         pieces of one mass, that no scale can tell apart.
wrong    surely wrong: a verdict, or a confidence of 0.9, on a dwell off by more than 2 s, or on a
         piece that never was in the bath.
"""

import datetime
import math
from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import linear_sum_assignment

from logger.correct.channel import Corrector
from logger.model.bench import bench_of_roles
from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.model.reading import Reading
from logger.model.rows import ImmersionRow
from logger.science.fats.fatfile import builtin_fats
from logger.watch.engine.engine import SECOND_NS, Engine
from logger.watch.engine.merge import order
from tests.bench.figures.hands_row import Row
from tests.virtual.bath_session import TrueImmersion
from tests.virtual.clumsy_bath import ClumsyBath, clumsy_bath

OFF_S = 2.0
APART_S = 3600.0
"""Ways out of which one is unknown are so far apart where rows are matched with the truth [s]."""
OTHER_S = 60.0
"""A row that went in so long before or after is another piece's [s]."""
ANSWER_EVERY_S = 5
SHEET = """
[sheet]
name = "Smoked beet and barley roll"

[[stage]]
id = "dip"
kind = "coat"

[[stage]]
id = "skin"
kind = "set"
{says}

[[stage]]
id = "rinse"
kind = "rinse"
"""


@dataclass
class HandsScore:
    """Counts over sessions."""

    sessions: int = 0
    counts_right: int = 0
    dwells: int = 0
    right: int = 0
    inside: int = 0
    surely_wrong: int = 0
    errors_s: list[float] = field(default_factory=list)
    missed: list[str] = field(default_factory=list)
    """What went wrong, in words, for whoever looks into it."""


def engine_of(session: ClumsyBath) -> Engine:
    """Return an engine for a session's sheet, and a bench with a bath scale."""
    truth, says = session.trace.truth, []
    if session.counted or session.weighed:
        says.append(f"pieces = {len(truth.masses_g)}")
    if session.weighed:
        masses = [f'"{truth.masses_g[n]} g"' for n in sorted(truth.masses_g)]
        says.append(f"piece_masses = [{', '.join(masses)}]")
    if session.planned:
        low, high = truth.planned_s
        says.append(f'dwell = {{ low = "{low:.0f} s", high = "{high:.0f} s" }}')
    bench = bench_of_roles(["bath_scale"])
    correctors = {c.id: Corrector(c, datetime.date(2026, 11, 25)) for c in bench.channel}
    sheet = sheet_from_text(SHEET.format(says="\n".join(says)), "hands.sheet.toml")
    return Engine(sheet, bench, correctors=correctors, fats=builtin_fats())


def play(session: ClumsyBath, *, answers: bool = False) -> list[ImmersionRow]:
    """Play a session; return the immersions.

    Parameters
    ----------
    session : ClumsyBath
        What happens.
    answers : bool
        Whether the cook answers, truly, which piece came out where that is asked; a stage that is
        offered is begun in any case.
    """
    engine, trace = engine_of(session), session.trace
    items: list[Reading | Event] = [
        Reading("bath_scale", round(t_s * SECOND_NS), mass_g, 0.1)
        for t_s, mass_g in zip(trace.t_s.tolist(), trace.mass_g.tolist(), strict=True)
    ]
    items += [_act(t_s, "next") for t_s in session.nexts_s]
    items.sort(key=order)
    until_s = math.ceil(trace.t_s[-1]) + 10
    place = 0
    for t_s in range(ANSWER_EVERY_S, until_s + ANSWER_EVERY_S, ANSWER_EVERY_S):
        start = place
        while place < len(items) and items[place].t_ns <= t_s * SECOND_NS:
            place += 1
        engine.feed(items[start:place], t_s * SECOND_NS)
        for asked in engine.state(t_s * SECOND_NS).proposals:
            if asked.id not in [
                open_one.id for open_one in engine.state(t_s * SECOND_NS).proposals
            ]:
                continue  # an answer before has settled it
            if asked.what == "begin_stage":
                engine.feed([_act(t_s, "accept", proposal=asked.id)], t_s * SECOND_NS)
            elif asked.what == "piece" and answers:
                rows = engine.results().immersions
                row = next((r for r in rows if r.immersion == asked.data["immersion"]), None)
                if row is not None:
                    says = "accept" if is_the_piece(session, row) else "decline"
                    engine.feed([_act(t_s, says, proposal=asked.id)], t_s * SECOND_NS)
    return engine.finish((until_s + ANSWER_EVERY_S) * SECOND_NS).immersions


def is_the_piece(session: ClumsyBath, row: ImmersionRow) -> bool:
    """Return whether the piece that came out with a row is the one that the row says.

    By its number where pieces were weighed; else it is the one that went in when the row says.
    """
    out_s = (row.out_s, row.out_s) if row.out_s is not None else row.out_between_s
    came_s = (row.in_s, row.in_s) if row.in_s is not None else row.in_between_s
    if out_s is None:
        return False
    left = [t for t in session.visible if t.out_s and _outside_s(out_s, t.out_s) <= OFF_S]
    if session.weighed:
        return any(true.piece == row.piece for true in left)
    return came_s is not None and any(_outside_s(came_s, t.in_s or 0.0) <= OFF_S for t in left)


def add(score: HandsScore, session: ClumsyBath, rows: list[ImmersionRow], name: str = "") -> None:
    """Score the rows of one session."""
    there = session.visible
    score.sessions += 1
    score.counts_right += len(rows) == len(there)
    if len(rows) != len(there):
        score.missed.append(f"{name} {len(rows)} of {len(there)} pieces")
    pairs = _by_number(there, rows) if session.weighed else _by_time(there, rows)
    for true, row in pairs:
        if true.in_s is None or true.out_s is None:
            continue
        score.dwells += 1
        if row is None:
            score.missed.append(f"{name} lost {true}")
            continue
        off_s = _off_s(row, true.out_s - true.in_s)
        right = off_s is not None and off_s <= (OFF_S if row.dwell_s is not None else 0.5)
        score.right += right
        score.inside += right or (not _sure(row) and _listed(row, true.out_s - true.in_s))
        if right and row.dwell_s is not None:
            score.errors_s.append(row.dwell_s - (true.out_s - true.in_s))
        if not right:
            score.missed.append(f"{name} {true} as {row}")
        if off_s is not None and off_s > OFF_S and _sure(row):
            score.surely_wrong += 1
            score.missed.append(f"{name} SURELY WRONG")
    taken = [id(row) for _, row in pairs]
    for row in rows:
        if id(row) not in taken and row.dwell_s is not None and _sure(row):
            score.surely_wrong += 1
            score.missed.append(f"{name} SURELY INVENTED {row}")


def score_all(sessions: int, first_seed: int, *, answers: bool = False) -> HandsScore:
    """Play and score sessions of seeds from one on, with a cook who answers or not."""
    score = HandsScore()
    for seed in range(first_seed, first_seed + sessions):
        session = clumsy_bath(seed)
        add(score, session, play(session, answers=answers), f"seed {seed}")
    return score


def rows(sessions: int, first_seed: int) -> list[Row]:
    """Return the bath's rows of the table."""
    score = score_all(sessions, first_seed)
    answered = score_all(sessions, first_seed, answers=True)
    p95_s = float(np.percentile(np.abs(score.errors_s), 95)) if score.errors_s else math.nan
    return [
        Row(
            what="bath: sessions with the number of pieces right",
            wanted="1.00",
            measured=f"{score.counts_right} of {score.sessions}",
            holds=score.counts_right == score.sessions,
        ),
        *_dwell_rows(score, ""),
        *_dwell_rows(answered, ", once a person has answered"),
        Row(
            what="bath: error of a dwell, 95th percentile",
            wanted="<= 0.3 s",
            measured=f"{p95_s:.2f} s",
            holds=p95_s <= 0.3,
        ),
    ]


def _dwell_rows(score: HandsScore, when: str) -> list[Row]:
    right = score.right / max(1, score.dwells)
    wrong = 1000.0 * score.surely_wrong / max(1, score.dwells)
    return [
        Row(
            what=f"bath: dwells right{when}",
            wanted=">= 0.96",
            measured=f"{right:.3f} of {score.dwells}",
            holds=right >= 0.96,
        ),
        Row(
            what=f"bath: dwells right, or undecided and the true one listed{when}",
            wanted="",
            measured=f"{score.inside / max(1, score.dwells):.3f} of {score.dwells}",
            holds=True,
        ),
        Row(
            what=f"bath: dwells surely wrong in 1,000{when}",
            wanted="0",
            measured=f"{wrong:.1f}",
            holds=score.surely_wrong == 0,
        ),
    ]


def _act(t_s: float, kind: str, **data: str) -> Event:
    return Event(t_ns=round(t_s * SECOND_NS), kind=kind, source="operator", data=dict(data))


def _sure(row: ImmersionRow) -> bool:
    return row.verdict in ("met", "not met") or (row.confidence or 0.0) >= 0.9


def _listed(row: ImmersionRow, dwell_s: float) -> bool:
    return any(abs(each_s - dwell_s) <= OFF_S for each_s in row.candidates)


def _off_s(row: ImmersionRow, dwell_s: float) -> float | None:
    """Return how far a row's dwell is from the true one [s]; None where it has none."""
    if row.dwell_s is not None:
        return abs(row.dwell_s - dwell_s)
    if row.dwell_between_s is None:
        return None
    low_s, high_s = row.dwell_between_s
    return max(0.0, low_s - dwell_s, dwell_s - high_s)


def _by_number(
    there: tuple[TrueImmersion, ...], rows: list[ImmersionRow]
) -> list[tuple[TrueImmersion, ImmersionRow | None]]:
    own = {row.piece: row for row in reversed(rows)}
    return [(true, own.get(true.piece)) for true in there]


def _by_time(
    there: tuple[TrueImmersion, ...], rows: list[ImmersionRow]
) -> list[tuple[TrueImmersion, ImmersionRow | None]]:
    """Without masses a piece is the row that went in when it did."""
    cost = np.array([[_apart_s(true, row) for row in rows] for true in there]).reshape(
        len(there), len(rows)
    )
    found: dict[int, ImmersionRow] = {
        int(i): rows[int(j)]
        for i, j in zip(*linear_sum_assignment(cost), strict=True)
        if cost[i, j] < 900.0
    }
    return [(true, found.get(n)) for n, true in enumerate(there)]


def _apart_s(true: TrueImmersion, row: ImmersionRow) -> float:
    """Return how far a row's way in is from a true one [s]; of equals its way out decides.

    At most `OTHER_S`, which an unknown way in has, too: else one such row would move all others.
    """
    came_s = row.in_between_s if row.in_s is None else (row.in_s, row.in_s)
    in_s = OTHER_S if came_s is None else min(OTHER_S, _outside_s(came_s, true.in_s or 0.0))
    return in_s + 1e-3 * _apart_at_end_s(true, row)


def _apart_at_end_s(true: TrueImmersion, row: ImmersionRow) -> float:
    """Return how far the ways out are apart [s], one that a gap hides by its interval; one that is
    out and one that is in are as far apart as can be.
    """
    between_s = row.out_between_s if row.out_s is None else (row.out_s, row.out_s)
    if (between_s is None) != (true.out_s is None):
        return APART_S
    return 0.0 if between_s is None else min(APART_S, _outside_s(between_s, true.out_s or 0.0))


def _outside_s(between_s: tuple[float, float], at_s: float) -> float:
    return max(0.0, between_s[0] - at_s, at_s - between_s[1])

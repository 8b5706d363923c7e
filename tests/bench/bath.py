"""Immersions found by themselves: how many are right, sure but wrong, and how far off.

Scored on two trace generators that know nothing of the detector. A dwell is a piece whose in and
out both lie in the record.

right   the row of that very piece has both moments within 4 s (where a gap hides a moment, when its
        interval holds it). It is the best guess: marked ambiguous or not does not matter here.
told    right and not marked ambiguous.
shown   told, or marked ambiguous with the true dwell within 4 s of its own or of a candidate's.
wrong   sure but wrong: a row not marked ambiguous that is not right, a row of a piece that never
        was in the bath included.
ambig   share of rows marked ambiguous; the candidates are listed and one tap settles it.
lists   dwells that an ambiguous row lists, its own included, on average.
p95     of the error of right dwells [s].
hidden  dwells outside the planned band that a sure row puts inside it, of all outside it.

With registered masses "that very piece" goes by its number; without, by the moment it went in.
"""

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import ruptures
from scipy.optimize import linear_sum_assignment
from scipy.signal import medfilt

from logger.watch.stages.set.immersion.detector import ImmersionDetector
from logger.watch.stages.set.rows import Immersion
from tests.virtual.bath_script import Scene
from tests.virtual.bath_session import bath_trace
from tests.watch.stages.set.immersion.feeding import feed_many
from tests.watch.stages.set.second_bath_generator import second_trace

WITHIN_S = 4.0
RUPTURES_PENALTY = 20_000.0  # best of six between 300 and 60000 on seeds 0 to 14 of both sources


@dataclass
class Session:
    """A trace in the form both generators are brought to."""

    t_s: list
    mass_g: list
    masses_g: dict
    planned_s: tuple
    immersions: list  # (piece, in_s, out_s)
    tares_s: list


@dataclass
class Score:
    """Counts over sessions."""

    dwells: int = 0
    right: int = 0
    sure_right: int = 0
    shown: int = 0
    listed: int = 0
    sure_wrong: int = 0
    rows: int = 0
    ambiguous: int = 0
    odd: int = 0
    hidden: int = 0
    errors_s: list = field(default_factory=list)
    missed: list = field(default_factory=list)

    def line(self) -> str:
        """One row of the table."""
        n = max(1, self.dwells)
        p95 = np.percentile(np.abs(self.errors_s), 95) if self.errors_s else math.nan
        return (
            f"{self.dwells:6d} {self.right / n:6.3f} {self.sure_right / n:6.3f} "
            f"{self.shown / n:6.3f} {self.sure_wrong / n:6.3f} "
            f"{self.ambiguous / max(1, self.rows):6.3f} "
            f"{self.listed / max(1, self.ambiguous):6.1f} {p95:6.2f} {self.hidden}/{self.odd}"
        )


def first(seed: int, scene: Scene | None = None) -> Session:
    """A session of the virtual bench."""
    trace = bath_trace(seed, scene)
    truth = trace.truth
    return Session(
        t_s=trace.t_s.tolist(),
        mass_g=[None if math.isnan(x) else x for x in trace.mass_g.tolist()],
        masses_g=truth.masses_g,
        planned_s=truth.planned_s,
        immersions=[(i.piece, i.in_s, i.out_s) for i in truth.immersions],
        tares_s=list(truth.tares_s),
    )


def second(seed: int, **options) -> Session:
    """A session of the second generator."""
    trace = second_trace(seed, **options)
    return Session(
        t_s=trace["t_s"].tolist(),
        mass_g=[None if math.isnan(x) else x for x in trace["mass_g"].tolist()],
        masses_g=trace["masses_g"],
        planned_s=trace["planned_s"],
        immersions=trace["immersions"],
        tares_s=trace["tares_s"],
    )


def detect(session: Session, *, masses: bool, planned: bool) -> tuple[Immersion, ...]:
    """Run the detector on a whole session."""
    detector = ImmersionDetector(
        masses_g=session.masses_g if masses else None,
        planned_s=session.planned_s if planned else None,
    )
    feed_many(detector, session.t_s, session.mass_g)
    detector.end()
    return detector.table().immersions


def near(row_s: float | None, between: tuple | None, true_s: float) -> bool:
    """Whether a moment, or the gap it lies in, agrees with the truth."""
    if between is not None:
        return between[0] - 0.5 <= true_s <= between[1] + 0.5
    return row_s is not None and abs(row_s - true_s) <= WITHIN_S


def listed(row: Immersion, true_s: float) -> bool:
    """Whether a true dwell is among the candidates of a row."""
    return any(abs(c.dwell_s - true_s) <= WITHIN_S for c in row.candidates)


def dwells_listed(row: Immersion) -> int:
    """How many dwells an ambiguous row lists; 0 for one that is not."""
    return 1 + len(row.candidates) if row.ambiguous else 0


def add(score: Score, session: Session, rows: tuple[Immersion, ...], *, by_number: bool) -> Score:
    """Score the rows of one session."""
    used: set[int] = set()
    for piece, in_s, out_s in session.immersions:
        own = [
            i
            for i, row in enumerate(rows)
            if i not in used
            and (
                row.piece == piece
                if by_number
                else (row.at_start if in_s is None else near(row.in_s, row.in_between_s, in_s))
            )
        ]
        row = rows[own[0]] if own else None
        if own:
            used.add(own[0])
        if in_s is None or out_s is None:
            wrong = row is not None and not (
                near(row.out_s, row.out_between_s, out_s)
                if out_s is not None
                else row.out_s is None and row.out_between_s is None
            )
            score.rows += row is not None
            score.ambiguous += row is not None and row.ambiguous
            score.listed += 0 if row is None else dwells_listed(row)
            score.sure_wrong += bool(wrong and row and not row.ambiguous)
            continue
        score.dwells += 1
        dwell = out_s - in_s
        low, high = session.planned_s
        is_odd = not low <= dwell <= high
        score.odd += is_odd
        if row is None:
            score.missed.append((piece, in_s, out_s, None))
            continue
        score.rows += 1
        score.ambiguous += row.ambiguous
        score.listed += dwells_listed(row)
        right = near(row.in_s, row.in_between_s, in_s) and near(row.out_s, row.out_between_s, out_s)
        score.right += right
        score.sure_right += right and not row.ambiguous
        score.shown += right or (row.ambiguous and listed(row, dwell))
        score.sure_wrong += not right and not row.ambiguous
        if not right:
            score.missed.append((piece, in_s, out_s, row))
        if right and row.dwell_s is not None:
            score.errors_s.append(row.dwell_s - dwell)
        told = row.dwell_s is not None and low <= row.dwell_s <= high
        score.hidden += is_odd and told and not row.ambiguous and not right
    for i, row in enumerate(rows):
        if i not in used:
            score.rows += 1
            score.ambiguous += row.ambiguous
            score.listed += dwells_listed(row)
            score.sure_wrong += not row.ambiguous
            score.missed.append((None, None, None, row))
    return score


def score_all(sessions: list[Session], *, masses: bool, planned: bool) -> Score:
    """Score a list of sessions."""
    score = Score()
    for session in sessions:
        rows = detect(session, masses=masses, planned=planned)
        add(score, session, rows, by_number=masses)
    return score


def rows_by_ruptures(session: Session, *, masses: bool, planned: bool) -> tuple[Immersion, ...]:
    """The same by a general change-point search and one assignment of outs to ins."""
    t = np.array(session.t_s)
    x = np.array([math.nan if m is None else m for m in session.mass_g])
    keep = ~np.isnan(x)
    t, x = t[keep], medfilt(x[keep], 5)
    every = max(1, t.size // 1500)
    found = ruptures.KernelCPD(kernel="linear", min_size=2, jump=1).fit(x[::every, None])
    ends = [0, *found.predict(pen=RUPTURES_PENALTY), x[::every].size]
    levels = [np.median(x[::every][a:b]) for a, b in pairwise(ends) if b > a]
    times = [t[min(t.size - 1, a * every)] for a in ends[1:-1]]
    steps = [(at, b - a) for at, (a, b) in zip(times, pairwise(levels), strict=False)]
    ins = [(at, d) for at, d in steps if d > 6]
    outs = [(at, -d) for at, d in steps if d < -6]
    if not ins or not outs:
        return ()
    labels = list(range(1, len(ins) + 1))
    if masses:
        numbers = list(session.masses_g)
        cost = np.abs(np.subtract.outer([d for _, d in ins], list(session.masses_g.values())))
        rows, columns = linear_sum_assignment(np.minimum(cost, 5.0))
        ins = [ins[r] for r in rows]
        labels = [numbers[c] for c in columns]
    cost = np.full((len(ins), len(outs)), 400.0)
    middle, width = np.mean(session.planned_s), np.ptp(session.planned_s)
    for i, (in_s, in_g) in enumerate(ins):
        for j, (out_s, out_g) in enumerate(outs):
            if out_s - in_s >= 10:
                cost[i, j] = min(400.0, ((out_g - in_g - 1.5) / 0.7) ** 2)
                if planned:
                    cost[i, j] += ((out_s - in_s - middle) / (0.35 * width)) ** 2
    pairs = [(i, j) for i, j in zip(*linear_sum_assignment(cost), strict=True) if cost[i, j] < 400]
    return tuple(
        Immersion(
            number=labels[i],
            piece=labels[i],
            in_s=float(ins[i][0]),
            out_s=float(outs[j][0]),
            dwell_s=float(outs[j][0] - ins[i][0]),
        )
        for i, j in pairs
    )


QUIET = Scene(
    pieces=0, touches=8, stirs=2, top_ups=2, ladles=0, tares=0, gaps=0, evaporation_g_min=1.0
)
HARD = {
    "cook 12 % off, band 30 %": Scene(dwell_sd=0.12, band=0.30),
    "12 touches": Scene(touches=12),
    "equal masses (0.3 g)": Scene(equal_g=0.3),
    "1 g scale, 2 Hz": Scene(step_g=1.0, rate_hz=2.0),
    "noise 0.5 g, drift -2 g/min": Scene(noise_g=0.5, evaporation_g_min=2.0),
    "always a gap, a tare, a redip": Scene(gaps=1, tares=1, redips=1),
    "a fifth pulled out early or late": Scene(odd_share=0.2),
    "pieces taken in any order": Scene(any_order=1.0),
    "7 to 20 s between dips": Scene(spacing_s=(7.0, 20.0)),
}


def speed_s() -> float:
    """Seconds of processor time for 4 h at 10 Hz with 96 edges, table included."""
    t = np.arange(0, 4 * 3600, 0.1)
    x = 2000 + np.random.default_rng(0).normal(0, 0.2, t.size)
    for number, start in enumerate(range(100, 14000, 300)):
        m = 70.0 + number % 9
        x += m * np.clip(t - start, 0, 1) - (m + 1.5) * np.clip(t - start - 150, 0, 1)
    times, masses = t.tolist(), np.round(x, 1).tolist()
    began = time.process_time()
    detector = ImmersionDetector(planned_s=(120.0, 180.0))
    feed_many(detector, times, masses)
    detector.end()
    rows = detector.table().immersions
    took = time.process_time() - began
    if len(rows) != 47:
        raise SystemExit(f"speed trace: {len(rows)} immersions instead of 47")
    return took


def main(traces: int = 200, first_seed: int = 20_000) -> None:
    """Print the table; seeds below 20000 were used to develop."""
    print(__doc__)
    sources: list[tuple[str, Callable[[int], Session]]] = [
        ("virtual bench", first),
        ("second generator", second),
    ]
    print(f"{'':46} dwells  right   told  shown  wrong  ambig  lists    p95 hidden")
    for name, source in sources:
        sessions = [source(first_seed + k) for k in range(traces)]
        for masses, planned in ((True, True), (True, False), (False, True), (False, False)):
            what = f"{'masses' if masses else 'no masses'}, {'plan' if planned else 'no plan'}"
            score = score_all(sessions, masses=masses, planned=planned)
            print(f"{name + ', ' + what:46}{score.line()}", flush=True)
        for masses in (True, False):
            score = Score()
            for session in sessions:
                rows = rows_by_ruptures(session, masses=masses, planned=masses)
                add(score, session, rows, by_number=masses)
            what = "masses, plan" if masses else "no masses, no plan"
            print(f"{name + ', ruptures, ' + what:46}{score.line()}", flush=True)
    for what, scene in HARD.items():
        sessions = [first(first_seed + k, scene) for k in range(max(1, traces // 5))]
        score = score_all(sessions, masses=True, planned=True)
        print(f"{what + ', masses, plan':46}{score.line()}", flush=True)
    quiet = [first(first_seed + k, QUIET) for k in range(traces)]
    quiet += [second(first_seed + k, distractors_only=True) for k in range(traces)]
    false = sum(len(detect(session, masses=False, planned=False)) for session in quiet)
    print(f"immersions in {len(quiet)} traces without pieces: {false}")
    print(f"4 h at 10 Hz, 47 pieces: {speed_s():.2f} s of processor time")

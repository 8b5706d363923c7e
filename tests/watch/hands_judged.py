"""Clumsy work through the engine, and its answers next to the truth; a table by habit.

``python -m tests.watch.hands_judged [bath|pours|weighing] [FIRST-LAST] [HABIT...]`` prints
the table of these seeds, and each failure with ``-v``. Knows the truth of `second_hands` and the
rows of results, no detector.
"""

import collections
import sys
from dataclasses import dataclass, field

from logger.correct.channel import Corrector
from logger.model.files import sheet_from_text
from logger.science.fats.fatfile import builtin_fats
from logger.watch.engine.engine import Engine
from tests.watch.second_hands.bath_and_bowl import BATH_HABITS, POUR_HABITS, bath, pours
from tests.watch.second_hands.pans import DAY, Event, S, bench_with, in_steps, stream
from tests.watch.second_hands.weighing import WEIGHING_HABITS, weighing

WORKS = {
    "bath": (bath, BATH_HABITS),
    "pours": (pours, POUR_HABITS),
    "weighing": (weighing, WEIGHING_HABITS),
}
OFF_S = 2.0
SURE = 0.9
SURELY = ("met", "not met")


@dataclass(slots=True)
class Score:
    """What came of one case: counts by name, errors, and failures in words."""

    counts: collections.Counter = field(default_factory=collections.Counter)
    errors: list[float] = field(default_factory=list)
    failures: list[str] = field(default_factory=list)

    def note(self, name, says=""):
        self.counts[name] += 1
        if says:
            self.failures.append(f"{name}: {says}")


def watched(case, *, look_s=20.0):
    """Feed a case to an engine; whoever cooks looks up now and then and takes what is offered.

    Only a question whether a stage began at an earlier time is taken.
    """
    bench = bench_with(case.scale)
    engine = Engine(
        sheet_from_text(case.sheet, "roll.sheet.toml"),
        bench,
        correctors={c.id: Corrector(c, DAY) for c in bench.channel},
        fats=builtin_fats(),
    )
    until_s = case.until_s
    taken = set()
    for items, t_s in in_steps(stream(case.pan, case.scale, until_s), look_s, until_s):
        engine.feed(items, round(t_s * S))
        for asked in engine.state(round(t_s * S)).proposals:
            if asked.what == "begin_stage" and asked.id not in taken and wants(case, asked):
                taken.add(asked.id)
                data = {"proposal": asked.id}
                act = Event(t_ns=round(t_s * S), kind="accept", source="operator", data=data)
                engine.feed([act], round(t_s * S))
    return engine, engine.state(round(until_s * S)), engine.finish(round(until_s * S))


def wants(case, asked):
    """Return whether the cook says yes: the stage that the work belongs to is named."""
    return (
        asked.data.get("stage") == {"bath": "skin", "pours": "combine", "weighing": "in"}[case.work]
    )


# Bath.


def judge_bath(case):
    score = Score()
    _, _, results = watched(case)
    rows = [r for r in results.immersions if r.in_s is not None or r.in_between_s is not None]
    verdicts = {f.piece: f.verdict for f in results.findings if f.key == "set.dwell_s"}
    score.counts["dwells"] = len(case.dips)
    if len(results.immersions) != len(case.dips):
        score.note("number wrong", f"{len(results.immersions)} rows, {len(case.dips)} pieces")
    for dip, row in zip(case.dips, _in_order(case.dips, rows), strict=True):
        _dwell(score, case, dip, row, verdicts.get(row.piece) if row is not None else None)
    for row in rows:
        if row.piece is None and row.confidence is not None and row.confidence >= SURE:
            score.counts["row of no piece"] += 1
    return score


def _in_order(dips, rows):
    """Return the row of each dip: the nearest beginnings first; None where none is left."""
    found = [None] * len(dips)
    pairs = sorted(
        (abs(_began(row) - sum(dip.in_s) / 2), n, m)
        for n, dip in enumerate(dips)
        for m, row in enumerate(rows)
    )
    used = set()
    for away_s, n, m in pairs:
        if found[n] is None and m not in used and away_s < 90.0:
            found[n] = rows[m]
            used.add(m)
    return found


def _began(row):
    return row.in_s if row.in_s is not None else sum(row.in_between_s) / 2


def _dwell(score, case, dip, row, verdict):
    low_s, high_s = dip.between_s
    told = f"dwell {dip.dwell_s:.1f} s in at {sum(dip.in_s) / 2:.1f}"
    if row is None:
        score.note("no dwell", told)
        return
    says = (
        f"{told}, row {row.immersion}: {row.dwell_s} s {row.dwell_between_s} "
        f"confidence {row.confidence} {verdict}"
    )
    if row.dwell_s is None:
        between = row.dwell_between_s
        holds = between is not None and between[0] - 1 <= high_s and between[1] + 1 >= low_s
        if verdict in SURELY and verdict != truly(case, dip):
            score.note("surely wrong", says)
        elif holds and dip.hidden:
            score.note("right")
        elif holds and verdict in SURELY:
            score.note("interval, true verdict", says)
        else:
            score.note("unknown" if between is None or holds else "interval without truth", says)
        return
    off_s = max(low_s - row.dwell_s, row.dwell_s - high_s, 0.0)
    if off_s <= OFF_S:
        score.note("right")
        if not dip.hidden:
            crisp = max(dip.in_s[1] - dip.in_s[0], dip.out_s[1] - dip.out_s[0]) < 2.5
            if crisp:
                score.errors.append(abs(row.dwell_s - dip.dwell_s))
    else:
        wrongly = verdict in SURELY and verdict != truly(case, dip)
        sure = wrongly or (row.confidence or 0.0) >= SURE
        among = any(low_s - OFF_S <= c <= high_s + OFF_S for c in row.candidates)
        kind = "off, true verdict" if verdict in SURELY else "off, undecided"
        kind = f"{kind}, truth offered" if among else kind
        score.note("surely wrong" if sure else kind, says)


def truly(case, dip):
    """Return the verdict on what was true."""
    low_s, high_s = case.band_s
    return "met" if low_s <= dip.dwell_s <= high_s else "not met"


# Pours.


def judge_pour(case):
    score = Score()
    _, _, results = watched(case)
    finding = next((f for f in results.findings if f.key == "emulsify.poured_g"), None)
    rows = [(r.start_s, r.end_s, r.mass_g) for r in results.pours]
    score.counts["pours"] = 1
    value_g = finding.value if finding is not None else None
    verdict = finding.verdict if finding is not None else None
    says = f"poured {case.poured_g:.1f} g, told {value_g} g {verdict}, rows {rows}"
    if not case.can_be_known and verdict not in SURELY:
        score.note("right")
        return score
    if value_g is None or value_g < 0.5:
        score.note("no pour", says)
        return score
    off_g = value_g - case.poured_g
    score.errors.append(abs(off_g))
    if abs(off_g) <= max(1.0, 0.01 * case.poured_g):
        score.note("right")
    else:
        score.note("wrong with a verdict" if verdict in SURELY else "wrong, no verdict", says)
    return score


# Weighing in.


def judge_weighing(case):
    score = Score()
    _, state, results = watched(case)
    rows = {r.ingredient: r for r in results.weighings}
    findings = {f.subject: f for f in results.findings if f.key == "weigh.mass_g"}
    asked = [p.text for p in state.proposals]
    for name, mass_g in case.weighed_g.items():
        score.counts["ingredients"] += 1
        row, finding = rows.get(name), findings.get(name)
        verdict = finding.verdict if finding is not None else None
        told_g = row.mass_g if row is not None else None
        says = f"{name} {mass_g:.2f} g, told {told_g} g {verdict}; asked {asked}"
        if mass_g == 0.0 and told_g is None and verdict not in SURELY:
            score.note("right")
        elif told_g is None:
            denied = finding is not None and "it was not weighed in" in finding.evidence
            asks = any(name in text for text in asked)
            score.note("asked" if asks else "denied" if denied else "not told", says)
        elif abs(told_g - mass_g) <= max(4 * case.scale.step_g, 0.01 * mass_g):
            score.note("right")
        else:
            score.note("wrong with a verdict" if verdict in SURELY else "wrong, no verdict", says)
    return score


JUDGES = {"bath": judge_bath, "pours": judge_pour, "weighing": judge_weighing}


def judged(work, habit, seeds):
    """Return the scores of a habit together."""
    total = Score()
    make = WORKS[work][0]
    for seed in seeds:
        score = JUDGES[work](make(habit, seed))
        total.counts += score.counts
        total.errors += score.errors
        total.failures += [f"{work} {habit!r} seed {seed}: {text}" for text in score.failures]
    return total


def line(name, score):
    """Return a row of the table."""
    errors = sorted(score.errors)
    p95 = f"{errors[int(0.95 * (len(errors) - 1))]:.2f}" if errors else "-"
    counts = ", ".join(f"{k} {v}" for k, v in sorted(score.counts.items()))
    return f"{name:26} p95 {p95:>6}  {counts}"


def main(words):
    loud = "-v" in words
    words = [w for w in words if w != "-v"]
    works = [words[0]] if words else list(WORKS)
    first, _, last = (words[1] if len(words) > 1 else "0-9").partition("-")
    seeds = range(int(first), int(last or first) + 1)
    for work in works:
        total = Score()
        for habit in words[2:] or WORKS[work][1]:
            score = judged(work, habit, seeds)
            total.counts += score.counts
            total.errors += score.errors
            print(line(habit, score), flush=True)
            for text in score.failures if loud else ():
                print("   ", text)
        print(line(f"all of {work}", total), flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])

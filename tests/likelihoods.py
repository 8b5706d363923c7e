"""Learns how likely causes are from virtual runs: ``python -m tests.likelihoods``.

Writes ``logger/review/likelihoods.toml``. The seeds are those of development, never those that
``python -m tests.bench.why`` reports by. Each run is seen with all good runs, with three and with
none, its defects said and not said.
"""

import argparse
import itertools
import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import logger.review
from logger.review.why.explain import shown_by, witness_of
from logger.review.why.knowledge import builtin_knowledge
from logger.review.why.likelihood import (
    ANY,
    Likelihoods,
    Ratios,
    Shown,
    chances,
)
from tests.bench.why import REPORTED_SEED, Runs, known_few, runs_of
from tests.review.why.ambiguous import unclear_ones

SEED, SHARE = 10_000, 0.35
EDGES = (0.0, 0.15, 0.3, 0.45, 0.6, 0.75, 0.85)
CENTRES = (0.0, 0.08, 0.22, 0.38, 0.52, 0.68, 0.8, 0.93)
HALF = 0.5
"""Added to each count: what was not seen in so few runs may still be (Jeffreys)."""
WORTH = 20.0
"""Runs that the learned ones of a defect count for at most, beside a user's own."""
RATES, ELSEWHERE = (0.01, 0.02, 0.05, 0.1, 0.2, 0.35, 0.5), (0.003, 0.01, 0.03, 0.1, 0.3, 1.0)
Priors = Mapping[str, Mapping[str, float]]
UNCLEAR = 214
TARGET = Path(logger.review.__file__).with_name("likelihoods.toml")


@dataclass(frozen=True, kw_only=True)
class Seen:
    """What one run shows of every cause, in one of the ways to look at it."""

    shown: dict[str, Shown]
    defects: tuple[str, ...]
    compared: bool
    causes: tuple[str, ...]


def all_seen(runs: Runs) -> Iterator[Seen]:
    """Yield each run as it is seen with many, few and no good runs, defects said or not."""
    knowledge = [m for m in builtin_knowledge() if not m.follows]
    sets_of_good = (runs.known, known_few(runs.known), {True: [], False: []})
    for case, one, _ in runs.wrong:
        for good, said in itertools.product(sets_of_good, (True, False)):
            run = one if said else replace(one, defects=())
            witness = witness_of(run, good[case.short], knowledge)
            yield Seen(
                shown=shown_by(knowledge, witness),
                defects=tuple(d for d in run.defects if any(d in m.leads_to for m in knowledge)),
                compared=witness.compared,
                causes=case.named,
            )


def ratios(seen: Sequence[Seen]) -> Ratios:
    """Return the logarithms of how much oftener a strength shows with a cause than without."""
    counts = {True: [HALF] * (len(CENTRES) + 1), False: [HALF] * (len(CENTRES) + 1)}
    for one in seen:
        for cause, shown in one.shown.items():
            counts[cause in one.causes][place(shown.strength)] += 1.0
    # Nothing measured speaks neither way, whatever a bench that measures all may show of it.
    logs = [
        math.log10(counts[True][k] / sum(counts[True]) * sum(counts[False]) / counts[False][k])
        for k in range(len(CENTRES))
    ]
    return Ratios(
        strength=(*CENTRES, 1.0),
        shown=tuple(round(x, 3) for x in rising(logs, counts)),
        not_measured=0.0,
    )


def place(strength: float | None) -> int:
    """Return the bin of a strength; the last is not measured."""
    if strength is None:
        return len(CENTRES)
    return sum(strength > edge for edge in EDGES)


def rising(logs: Sequence[float], counts: dict[bool, list[float]]) -> list[float]:
    """Pool what falls, weighted by how much was seen; the last stands for 1 as well."""
    pools: list[list[float]] = []
    for k, value in enumerate(logs):
        pools.append([value, min(counts[True][k], counts[False][k]), 1.0])
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            high, low = pools.pop(), pools.pop()
            weight = high[1] + low[1]
            mean = (high[0] * high[1] + low[0] * low[1]) / weight
            pools.append([mean, weight, high[2] + low[2]])
    found = [value for value, _, count in pools for _ in range(int(count))]
    return [*found, found[-1]]


def priors(found: Iterable[tuple[Sequence[str], Sequence[str]]]) -> Priors:
    """Return how many batches of each defect had each cause, worth `WORTH` batches at most.

    `found` holds causes and defects of each batch.
    """
    leads = {m.id: set(m.leads_to) for m in builtin_knowledge()}
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    for causes, defects in found:
        for cause in causes:
            counts[ANY][cause] += 1
            for defect in defects:
                if defect in leads.get(cause, ()):
                    counts[defect][cause] += 1
    return {
        defect: {c: round(n * min(1.0, WORTH / of.total()), 2) for c, n in sorted(of.items())}
        for defect, of in sorted(counts.items())
    }


def of_both(a: Priors, b: Priors) -> dict[str, dict[str, float]]:
    """Return the mean of two priors of each defect, or the one that there is."""
    mean: dict[str, dict[str, float]] = {}
    for defect in sorted({*a, *b}):
        there = [p[defect] for p in (a, b) if defect in p]
        causes = sorted({c for p in there for c in p})
        mean[defect] = {c: round(sum(p.get(c, 0.0) for p in there) / len(there), 2) for c in causes}
    return mean


def loss(seen: Sequence[Seen], learned: Likelihoods) -> float:
    """Return minus the log-likelihood of what was put in, over all causes."""
    total = 0.0
    for one in seen:
        likely = chances(one.shown, one.defects, learned, compared=one.compared)
        for cause, p in likely.items():
            if cause != ANY:
                p = min(max(p, 1e-4), 1.0 - 1e-4)
                total -= math.log(p if cause in one.causes else 1.0 - p)
    return total


def learn(runs: Runs) -> Likelihoods:
    """Return what the runs teach."""
    seen = list(all_seen(runs))
    first = Likelihoods(
        compared=ratios([s for s in seen if s.compared]),
        alone=ratios([s for s in seen if not s.compared]),
        priors=priors((case.named, defects) for case, _, defects in runs.wrong),
        rate=0.1,
        rate_any=0.1,
        even=1.0,
        unknown=1.0,
        elsewhere=0.1,
    )
    unsaid = [s for s in seen if not s.defects]
    first = min(
        (replace(first, rate_any=r) for r in RATES), key=lambda learned: loss(unsaid, learned)
    )
    said = [s for s in seen if s.defects]
    return min(
        (replace(first, rate=r, elsewhere=e) for r in RATES for e in ELSEWHERE),
        key=lambda learned: loss(said, learned),
    )


def with_unclear(learned: Likelihoods, batches: int) -> Likelihoods:
    """Return likelihoods whose priors also count batches hard to tell, seeds 10000 and up."""
    also = priors((one.true, one.run.defects) for one in unclear_ones(SEED, batches))
    return replace(learned, priors=of_both(learned.priors, also))


def text_of(learned: Likelihoods, head: str) -> str:
    """Return the file."""
    lines = [f"# {line}" for line in head.splitlines()]
    lines += [
        f"rate = {learned.rate}",
        f"rate_any = {learned.rate_any}",
        f"even = {learned.even}",
        f"unknown = {learned.unknown}",
        f"elsewhere = {learned.elsewhere}",
    ]
    for name, one in (("compared", learned.compared), ("alone", learned.alone)):
        lines += [
            "",
            f"[{name}]",
            f"strength = {list(one.strength)}",
            f"shown = {list(one.shown)}",
            f"not_measured = {one.not_measured}",
        ]
    for defect, counted in learned.priors.items():
        lines += ["", f'[priors."{defect}"]', *(f"{c} = {n}" for c, n in counted.items())]
    return "\n".join(lines) + "\n"


def priors_also_of(batches: int) -> str:
    """Return the line that says what else was learned from."""
    return f"\nPriors also of {batches} short batches with mild causes, seeds {SEED} and up."


def main() -> None:
    """Make the runs, learn, and write the file."""
    parser = argparse.ArgumentParser(prog="python -m tests.likelihoods", description=__doc__)
    parser.add_argument("--seed", type=int, default=SEED, help="first seed")
    parser.add_argument("--share", type=float, default=SHARE, help="part of the runs, 0 to 1")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="as of tests.bench.why")
    parser.add_argument("--unclear", type=int, default=UNCLEAR, metavar="N",
                        help="batches with mild causes, for the priors")  # fmt: skip
    asked = parser.parse_args()
    if asked.seed + 10_000 > REPORTED_SEED:
        parser.error(f"seeds of {REPORTED_SEED} and up are those that are reported")
    if asked.keep is not None:
        asked.keep.mkdir(parents=True, exist_ok=True)
    runs = runs_of(asked.seed, asked.share, asked.keep)
    count = len(runs.wrong)
    head = (
        f"Made by python -m tests.likelihoods --seed {asked.seed} --share {asked.share}: {count} "
        f"virtual runs\nwith one cause or two, seeds {asked.seed} and up. What the entries mean: "
        "logger/review/why/likelihood.py."
    )
    learned = with_unclear(learn(runs), asked.unclear)
    TARGET.write_text(text_of(learned, head + priors_also_of(asked.unclear)), encoding="utf-8")
    print(TARGET)


if __name__ == "__main__":
    main()

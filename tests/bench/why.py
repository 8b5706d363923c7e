"""How often the first-named cause is the one that was put in: virtual runs, judged and explained.

Each run has noise, touches and up to two faults of the line or a sensor; the engine judges it as it
judges a live run, and the explanation sees what a recorded run holds, never the truth. The seeds of
the reported table (50 000 and up) are others than those the ranks were tuned on (10 000 to 49 999):
``python -m tests.bench.why --seed 20000 --share 0.25`` makes a smaller table of such seeds.
"""

import argparse
import collections
import concurrent.futures
import datetime
import itertools
import math
import os
import pickle
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from logger.review.features.portrait import Portrait, portrait
from logger.review.why.explain import explain
from logger.review.why.knowledge import builtin_knowledge
from logger.review.why.likelihood import Likelihoods
from logger.virtual.batch.causes import CAUSES, PIECE_CAUSES
from tests.bench.figures.second_kitchen import print_second_kitchen
from tests.bench.figures.virtual_runs import judged
from tests.review.why.ambiguous import good_ones, unclear_ones, unclear_scored
from tests.review.why.calibration import print_calibration

REPORTED_SEED = 50_000
GOOD, GOOD_RUNS_TO_COMPARE = 100, 12
FULL_OF_BOTH, SHORT_OF_BOTH, FULL_ONLY = 8, 12, 20
PAIRS = 60
BY_PIECE = {
    "uneven_coat": "uneven_coat",
    "one_late_piece": "long_dwell",
    "cold_side_of_bath": "cold_side_of_bath",
}
"""What goes wrong with some pieces only, and the cause that should be named."""
WORKERS = 2
_FAULTS = (
    ("unplug", ("probes", "bath_scale", "bowl_scale", "bench_scale")),
    ("partial", ("probes", "bath_scale", "bowl_scale")),
    ("garbage", ("probes", "bath_scale", "bench_scale")),
    ("silence", ("probes", "core_reader", "bench_scale")),
    ("split", ("bath_scale", "bowl_scale")),
    ("overload", ("bath_scale", "bowl_scale")),
    ("open", ("fat", "water", "emulsion", "bath")),
    ("stuck", ("room", "core", "bath")),
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Case:
    """One run to make: seed, what is put in, and whether it is the short batch."""

    seed: int
    causes: tuple[str, ...] = ()
    short: bool = False
    by_piece: bool = False
    """Whether the cook says which pieces have a defect."""

    @property
    def named(self) -> tuple[str, ...]:
        """Ids of the causes that should be named."""
        return tuple(BY_PIECE.get(cause, cause) for cause in self.causes)


def faults_of(case: Case) -> tuple[str, ...]:
    """Draw none to two faults for a run, by its seed."""
    rng = np.random.default_rng([case.seed, 77])
    length_s = 650.0 if case.short else 3800.0
    found = []
    for _ in range(int(rng.integers(0, 3))):
        name, targets = _FAULTS[int(rng.integers(len(_FAULTS)))]
        target = targets[int(rng.integers(len(targets)))]
        found.append(f"{name}@{rng.uniform(30.0, length_s):.0f}:{target}")
    return tuple(found)


def make(case: Case, folder: Path | None = None) -> tuple[Case, Portrait, list[str]]:
    """Simulate and judge one run; give its portrait and the defects that came out."""
    name = f"{case.seed}{'s' if case.short else 'f'}.results"
    kept = folder / name if folder is not None else None
    facts, run = judged(
        case.seed, case.causes, faults_of(case), short=case.short, kept=kept, by_piece=case.by_piece
    )
    return case, portrait(facts), run.truth["defects"]


def cases(first: int, full: int, short: int, full_only: int) -> list[Case]:
    """List runs of each cause alone."""
    seeds = itertools.count(first)
    found = []
    for name, cause in CAUSES.items():
        shorts = short if cause.short else 0
        fulls = full if cause.short else full_only
        found += [Case(seed=next(seeds), causes=(name,), short=i < shorts)
                  for i in range(shorts + fulls)]  # fmt: skip
    return found


def good_cases(first: int, count: int) -> list[Case]:
    """List runs in which all goes well, half of them short."""
    return [Case(seed=first + i, short=i % 2 == 0) for i in range(count)]


def pair_cases(first: int, count: int) -> list[Case]:
    """List full runs of two causes that lead to something each."""
    rng = np.random.default_rng(first)
    pairs = list(itertools.combinations(CAUSES, 2))
    pairs = [p for p in pairs if p not in _SAME_HAND]
    picked = rng.permutation(len(pairs))[:count]
    return [Case(seed=first + i, causes=pairs[int(k)]) for i, k in enumerate(picked)]


def piece_cases(first: int, each: int) -> list[Case]:
    """List runs in which something goes wrong with some pieces only, one in three of them short."""
    kinds = list(BY_PIECE)
    return [
        Case(
            seed=first + 100 * kinds.index(name) + k,
            causes=(name,),
            short=k % 3 == 2 and name in PIECE_CAUSES,
            by_piece=True,
        )
        for name in kinds
        for k in range(each)
    ]


# Causes that set the same thing in the virtual batch: the second undoes the first.
_SAME_HAND = {
    ("short_dwell", "long_dwell"), ("thick_coat", "uneven_coat"),
    ("hydrate_mistaken", "bath_exhausted"), ("fat_too_cool", "probe_swapped"),
    ("water_too_cold", "probe_swapped"),
}  # fmt: skip


def make_all(wanted: list[Case], folder: Path | None) -> list[tuple[Case, Portrait, list[str]]]:
    """Make runs on two processors; how far it is goes to the error stream."""
    found = []
    with concurrent.futures.ProcessPoolExecutor(WORKERS) as pool:
        for made in pool.map(make, wanted, itertools.repeat(folder)):
            found.append(made)
            if len(found) % 20 == 0 or len(found) == len(wanted):
                print(f"{len(found)} of {len(wanted)} runs", file=sys.stderr, flush=True)
    return found


def first_named(run: Portrait, good: list[Portrait], count: int = 3) -> list[str]:
    """Return the ids of the causes named first."""
    return [c.mechanism.id for c in explain(run, good, builtin_knowledge()).causes[:count]]


def share(hits: int, of: int) -> str:
    """Write a share with its 95 % interval (Wilson 1927)."""
    if of == 0:
        return "none"
    p, z2 = hits / of, 1.96**2
    middle = (p + z2 / (2 * of)) / (1 + z2 / of)
    half = 1.96 * math.sqrt(p * (1 - p) / of + z2 / (4 * of * of)) / (1 + z2 / of)
    return f"{p:.3f} ({hits}/{of}; 95 % {max(0.0, middle - half):.3f} to {middle + half:.3f})"


Made = tuple[Case, Portrait, list[str]]


@dataclass(frozen=True, kw_only=True)
class Runs:
    """Runs of one range of seeds: good ones by length, with one cause, with none, with two."""

    known: dict[bool, list[Portrait]]
    singles: list[Made]
    without: list[Made]
    doubles: list[Made]
    by_piece: list[Made]

    @property
    def wrong(self) -> list[Made]:
        """All runs with a cause."""
        return [*self.singles, *self.doubles, *self.by_piece]


def runs_of(first_seed: int, part: float, folder: Path | None) -> Runs:
    """Make all runs; those kept in a folder by an earlier call are taken from it."""
    kept = folder / "portraits" if folder is not None else None
    if kept is not None and kept.is_file():
        return Runs(**dict(zip(Runs.__annotations__, pickle.loads(kept.read_bytes()), strict=True)))  # noqa: S301 - our own file
    full, short, full_only, good, pairs, pieces = (
        max(1, round(part * count))
        for count in (FULL_OF_BOTH, SHORT_OF_BOTH, FULL_ONLY, GOOD, PAIRS, FULL_ONLY)
    )
    base = [Case(seed=first_seed + i, short=s) for i in range(GOOD_RUNS_TO_COMPARE)
            for s in (True, False)]  # fmt: skip
    groups = (
        base,
        cases(first_seed + 1000, full, short, full_only),
        good_cases(first_seed + 3000, good),
        pair_cases(first_seed + 5000, pairs),
        piece_cases(first_seed + 6000, pieces),
    )
    made = iter(make_all([case for group in groups for case in group], folder))
    good_ones, *others = ([next(made) for _ in group] for group in groups)
    singles, without, doubles, by_piece = others
    known: dict[bool, list[Portrait]] = {True: [], False: []}
    for case, one, defects in good_ones:
        if not defects:
            known[case.short].append(one)
    if kept is not None:
        kept.write_bytes(pickle.dumps((known, singles, without, doubles, by_piece)))
    return Runs(known=known, singles=singles, without=without, doubles=doubles, by_piece=by_piece)


def measure(first_seed: int, part: float, folder: Path | None) -> None:
    """Make and explain all runs; print the shares and the tables."""
    began, processor_s = time.perf_counter(), processor_time_s()
    runs = runs_of(first_seed, part, folder)
    now = datetime.datetime.now(datetime.UTC).isoformat(timespec="minutes")
    count = len(runs.wrong) + len(runs.without)
    print(f"{now}; seeds {first_seed} and up; {count} runs; up to two faults in each")
    report(runs.singles, runs.without, runs.doubles, runs.known)
    print_by_piece(runs)
    print_calibration(scored(runs))
    print(
        f"\n{count} runs made and explained in {time.perf_counter() - began:.0f} s, of processor "
        f"time {processor_time_s() - processor_s:.0f} s"
    )


def scored(runs: Runs, learned: Likelihoods | None = None) -> list[tuple[float, bool]]:
    """Return the score of each cause that is listed, and whether it was put in.

    By what comes with the program, or by other likelihoods.

    Each rejected run is explained with all good runs, with three and with none, its defects said
    and not said.
    """
    found = []
    sets_of_good = (runs.known, known_few(runs.known), {True: [], False: []})
    for case, one, _ in runs.wrong:
        for good, said in itertools.product(sets_of_good, (True, False)):
            run = one if said else replace(one, defects=())
            causes = explain(run, good[case.short], builtin_knowledge(), learned).causes
            found += [(c.score, c.mechanism.id in case.named) for c in causes if c.known]
    return found


def processor_time_s() -> float:
    """Return the processor time of this process and its ended children [s]."""
    return sum(os.times()[:4])


def report(singles: Any, without: Any, doubles: Any, known: Any) -> None:
    """Print shares and the confusion table."""
    confusion: dict[str, collections.Counter[str]] = collections.defaultdict(collections.Counter)
    first = third = quiet = 0
    for case, one, defects in singles:
        quiet += not defects
        named = first_named(one, known[case.short])
        confusion[case.causes[0]][named[0] if named else "none"] += 1
        first += named[:1] == [case.causes[0]]
        third += case.causes[0] in named
    print(f"first-named cause right:       {share(first, len(singles))}")
    print(f"among the first three:         {share(third, len(singles))}")
    print(f"causes that led to no defect:  {quiet}")
    good = [(c, one) for c, one, came in without if not came]
    told = sum(bool(first_named(one, known[c.short])) for c, one in good)
    untold = sum(
        bool(first_named(replace(one, outcome=None, defects=()), known[c.short])) for c, one in good
    )
    print(f"good runs accused, outcome said:      {share(told, len(good))}")
    print(f"good runs accused, outcome not said:  {share(untold, len(good))}")
    print(f"nothing put in, and yet a defect came out (not good): {len(without) - len(good)}")
    both = sum(set(c.causes) <= set(first_named(one, known[c.short])) for c, one, _ in doubles)
    print(f"two causes, both among the first three: {share(both, len(doubles))}")
    print_confusion(confusion)
    few = known_few(known)
    first = sum(first_named(one, few[c.short])[:1] == [c.causes[0]] for c, one, _ in singles)
    print(f"\nwith 3 good runs to compare with: {share(first, len(singles))}")
    first = sum(first_named(one, [])[:1] == [c.causes[0]] for c, one, _ in singles)
    print(f"with none:                        {share(first, len(singles))}")
    first = sum(
        first_named(replace(one, defects=()), known[c.short])[:1] == [c.causes[0]]
        for c, one, _ in singles
    )
    print(f"rejected, defects not said:       {share(first, len(singles))}")


def print_by_piece(runs: Runs) -> None:
    """Print how often the cause is named first where some pieces only went wrong."""
    print("\nsome pieces only, said by piece: first named, with good runs and with none")
    for name in BY_PIECE:
        made = [(case, one) for case, one, _ in runs.by_piece if case.causes == (name,)]
        came = [(case, one) for case, one in made if one.defects]
        for known in (runs.known, {True: [], False: []}):
            first = sum(first_named(one, known[c.short], 1) == list(c.named) for c, one in came)
            print(f"  {name}: {share(first, len(came))}; without a defect {len(made) - len(came)}")


def known_few(known: Any) -> Any:
    """Return three good runs of each length."""
    return {length: runs[:3] for length, runs in known.items()}


def print_confusion(confusion: dict[str, "collections.Counter[str]"]) -> None:
    """Print which cause was named first for which; dots are noughts."""
    names = list(CAUSES)
    others = sorted({n for row in confusion.values() for n in row} - set(names))
    heads = [*names, *others]
    print("\nput in (rows), named first (columns)")
    width = max(len(n) for n in names)
    for number, head in enumerate(heads, start=1):
        print(f"{'':{width}}  {number:2d} = {head}")
    print(f"{'':{width}}  " + "".join(f"{i:4d}" for i in range(1, len(heads) + 1)))
    for name in names:
        row = confusion[name]
        print(f"{name:{width}}  " + "".join(f"{row[h] or '.':>4}" for h in heads))


def main(argv: Sequence[str] = ()) -> None:
    """Print the table of the reported seeds, or of those asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.why", description=__doc__)
    parser.add_argument("--seed", type=int, default=REPORTED_SEED, help="first seed")
    parser.add_argument("--share", type=float, default=1.0, help="part of the runs, 0 to 1")
    parser.add_argument("--keep", type=Path, metavar="FOLDER",
                        help="keep what the engine found here, and take it from here")  # fmt: skip
    parser.add_argument("--second", type=int, default=3, metavar="N",
                        help="batches of each cause in the second kitchen; 0: none")  # fmt: skip
    parser.add_argument("--unclear", type=int, default=40, metavar="N",
                        help="batches with mild causes, to calibrate on")  # fmt: skip
    parser.add_argument("--second-only", action="store_true", help="no run of the virtual bench")
    asked = parser.parse_args(argv)
    if asked.keep is not None:
        asked.keep.mkdir(parents=True, exist_ok=True)
    if not asked.second_only:
        measure(asked.seed, asked.share, asked.keep)
        print(f"\n{asked.unclear} short batches with mild causes, sensors left out:")
        unclear = unclear_ones(asked.seed, asked.unclear)
        print_calibration(unclear_scored(unclear, good_ones(asked.seed)))
    if asked.second:
        print_second_kitchen(asked.second)


if __name__ == "__main__":
    main(sys.argv[1:])

"""Causes named for batches of the second kitchen, which shares nothing with the virtual bench.

Both the generator and this judging of it were written by the same hand, though apart from the
knowledge and its strengths: a kitchen of somebody else may be harder. Used by ``why``.
"""

from collections import Counter
from collections.abc import Sequence

from logger.review.features.portrait import Portrait
from logger.review.why.broken import broken_limits, can_lead, of_stages_behind
from logger.review.why.explain import explain
from logger.review.why.explanation import Explanation
from logger.review.why.knowledge import builtin_knowledge
from tests.review.second_kitchen.cook import BY_PIECE, WRONGS
from tests.review.second_kitchen.traces import batch

GOOD, GOOD_SEED, WRONG_SEED = 10, 95_000, 96_000
KNOWLEDGE = builtin_knowledge()


def contradicts(run: Portrait, found: Explanation) -> bool:
    """Whether no cause is proven though a limit was broken that can lead to a defect."""
    behind = [
        (broken, defect)
        for defect in run.defects
        for broken in of_stages_behind(broken_limits(run), defect, KNOWLEDGE)
        if can_lead(broken, defect, KNOWLEDGE)
    ]
    return bool(behind) and not any(c.proven for c in found.causes)


def print_second_kitchen(each: int) -> None:
    """Make and explain `each` batches of every cause; print shares and what was missed."""
    good_ones = [batch(GOOD_SEED + i)[0] for i in range(GOOD)]
    known, unsaid = good_ones[: GOOD // 2], good_ones[GOOD // 2 :]
    print(f"\nsecond kitchen: seeds {GOOD_SEED} and {WRONG_SEED} and up, {each} of each cause")
    wrong = [
        (cause, *batch(WRONG_SEED + 100 * n + k, cause))
        for n, cause in enumerate((*WRONGS, *BY_PIECE))
        for k in range(each)
    ]
    _print_shares("with 5 good batches", wrong, known)
    _print_shares("with none", wrong, [])
    accused = sum(bool(explain(one, known, KNOWLEDGE).causes) for one in unsaid)
    print(f"good batches accused, outcome not said: {accused} of {len(unsaid)}")


def _print_shares(
    head: str, wrong: Sequence[tuple[str, Portrait, str]], good: Sequence[Portrait]
) -> None:
    counts: Counter[str] = Counter()
    for cause, run, named in wrong:
        kind = "pieces" if cause in BY_PIECE else "batch"
        if run.outcome != "rejected":
            counts[f"{kind} without a defect"] += 1
            continue
        found = explain(run, good, KNOWLEDGE)
        ids = [c.mechanism.id for c in found.causes[:3]]
        counts[f"{kind} runs"] += 1
        counts[f"{kind} first"] += ids[:1] == [named]
        counts[f"{kind} first three"] += named in ids
        counts["contradictions"] += contradicts(run, found)
        if ids[:1] != [named]:
            print(f"  missed: {run.run_id} ({', '.join(run.defects)}): {', '.join(ids) or 'none'}")
    print(f"{head}: " + ", ".join(f"{name} {n}" for name, n in counts.items()))

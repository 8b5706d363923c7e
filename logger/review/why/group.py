"""Several runs with one defect: what they share, and which of them are unlike the others.

Pure; portraits and explanations in, a group out. Means hide that a group has several causes, so
each run stays a point, and each is compared with the rest of its group.
"""

from collections.abc import Mapping, Sequence

from logger.model.explained.group import Group, GroupCause, GroupNumber, GroupPoint
from logger.review.features.feature import BY_NAME, Feature
from logger.review.features.portrait import Portrait
from logger.review.why.answer import quoted
from logger.review.why.evidence import CLAIM
from logger.review.why.explanation import Explanation
from logger.review.why.unlike import MOST, Unlike, holm, unlike
from logger.science.statistics.exact import rank_sum_p
from logger.words.counts import count_text


def group_of(
    runs: Sequence[Portrait], good: Sequence[Portrait], explained: Sequence[Explanation]
) -> Group:
    """Put runs of one defect next to each other and next to the good ones.

    Parameters
    ----------
    runs : sequence of Portrait
        Two or more.
    good : sequence of Portrait
        Accepted runs of the same product, the latest first; at most 20 are used.
    explained : sequence of Explanation
        Of each of the runs, in their order.
    """
    others = [g for g in good if g.run_id not in {r.run_id for r in runs}][:MOST]
    names = [n for n in BY_NAME if any(_value(r, n) is not None for r in runs)]
    odd = _far_off(runs, names)
    raised = _against_good(runs, others, names)
    numbers = [_number(name, runs, others, odd, raised.get(name)) for name in names]
    numbers.sort(key=lambda number: 1.0 if number.p is None else number.p)
    shared = [d for d in runs[0].defects if all(d in r.defects for r in runs)]
    causes = _causes(explained)
    far = tuple(r.run_id for r in runs if any(odd.get((r.run_id, n), 1.0) < CLAIM for n in names))
    return Group(
        runs=tuple(r.run_id for r in runs),
        defects=tuple(shared),
        numbers=tuple(numbers),
        causes=causes,
        far_off=far,
        says=_says(shared, causes, numbers, far, len(others)),
    )


def _value(run: Portrait, name: str) -> float | None:
    feature = run.features.get(name)
    return None if feature is None else feature.value


def _values(runs: Sequence[Portrait], name: str) -> list[float]:
    return [v for r in runs if (v := _value(r, name)) is not None]


def _far_off(runs: Sequence[Portrait], names: Sequence[str]) -> dict[tuple[str, str], float]:
    """Return, by run and number, the chance of lying that far from the rest of the group [1]."""
    found: dict[tuple[str, str], float] = {}
    for run in runs:
        rest = [r for r in runs if r is not run][:MOST]
        for name in names:
            one = _stands(run.features.get(name), _values(rest, name))
            if one is not None:
                found[run.run_id, name] = one.p
    return dict(zip(found, holm(list(found.values())), strict=True))


def _stands(feature: Feature | None, values: Sequence[float]) -> Unlike | None:
    """Return how a number stands to others; None where it, or their spread, is not known."""
    if feature is None or feature.value is None or feature.u != feature.u:
        return None
    return unlike(feature.value, values, u=feature.u, least=feature.spec.least)


def _against_good(
    runs: Sequence[Portrait], good: Sequence[Portrait], names: Sequence[str]
) -> dict[str, float]:
    """Return the chance that group and good runs differ as much by chance, by number [1]."""
    found = {}
    for name in names:
        ours, theirs = _values(runs, name), _values(good, name)
        if ours and theirs:
            found[name] = rank_sum_p(ours, theirs)
    return dict(zip(found, holm(list(found.values())), strict=True))


def _number(
    name: str,
    runs: Sequence[Portrait],
    good: Sequence[Portrait],
    odd: Mapping[tuple[str, str], float],
    p: float | None,
) -> GroupNumber:
    spec = BY_NAME[name]
    ours, theirs = _spread(name, _values(runs[:MOST], name)), _spread(name, _values(good, name))
    return GroupNumber(
        name=name,
        label=spec.label,
        unit=spec.unit,
        points=tuple(_point(r, name, odd.get((r.run_id, name))) for r in runs),
        median=ours.median if ours is not None else None,
        low=max(ours.low, spec.lowest) if ours is not None else None,
        high=ours.high if ours is not None else None,
        good_median=theirs.median if theirs is not None else None,
        good_low=max(theirs.low, spec.lowest) if theirs is not None else None,
        good_high=theirs.high if theirs is not None else None,
        p=p,
    )


def _spread(name: str, values: Sequence[float]) -> Unlike | None:
    return unlike(values[0], values, least=BY_NAME[name].least) if values else None


def _point(run: Portrait, name: str, p: float | None) -> GroupPoint:
    feature = run.features.get(name)
    u = feature.u if feature is not None and feature.u == feature.u else None
    value = _value(run, name)
    return GroupPoint(
        run=run.run_id,
        value=value,
        u=None if value is None else u,
        p=p,
        far_off=p is not None and p < CLAIM,
    )


def _causes(explained: Sequence[Explanation]) -> tuple[GroupCause, ...]:
    titles: dict[str, str] = {}
    runs: dict[str, list[str]] = {}
    for one in explained:
        first = one.causes[0].mechanism if one.causes else None
        key = first.id if first is not None else ""
        titles[key] = first.cause if first is not None else ""
        runs.setdefault(key, []).append(one.run)
    found = [GroupCause(cause=k, title=titles[k], runs=tuple(of)) for k, of in runs.items()]
    return tuple(sorted(found, key=lambda cause: -len(cause.runs)))


def _says(
    shared: Sequence[str],
    causes: Sequence[GroupCause],
    numbers: Sequence[GroupNumber],
    far: Sequence[str],
    good: int,
) -> str:
    of = f" with {quoted(shared)}" if shared else " that share no defect"
    runs = sum(len(c.runs) for c in causes)
    named = [f"{c.title or 'no cause stands out'} ({', '.join(c.runs)})" for c in causes]
    one_or_more = "one cause is named first" if len(causes) == 1 else "several causes are likely"
    says = f"{runs} runs{of}: {one_or_more}: {'; '.join(named)}."
    differ = [n.label for n in numbers if n.p is not None and n.p < CLAIM]
    if differ:
        whole = count_text(good, "good batch", "good batches")
        says += f" Unlike the {whole} as a group: {', '.join(differ)}."
    if far:
        says += f" Far from the others in the group: {', '.join(far)}."
    return says

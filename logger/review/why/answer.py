"""What an explanation says in words: the answer in a sentence, what was not measured, what is odd.

Pure; the ranked causes of logger.review.why.explain and what the run shows in, text out.
"""

from collections.abc import Sequence

from logger.review.why.broken import Broken, of_stages_behind
from logger.review.why.evidence import CLAIM, Witness, feature_text, good_text
from logger.review.why.explanation import Cause, capital
from logger.review.why.knowledge import Mechanism
from logger.review.why.likelihood import MAY_BE, MOST_LIKELY
from logger.review.why.unlike import FEWEST

EXPLAINS = 0.5
"""Rank from which a cause explains a defect."""
_CLOSE = 0.08
_MOST_LIMITS = 3


def answer(knowledge: Sequence[Mechanism], witness: Witness, causes: Sequence[Cause]) -> str:
    """Return the answer in a sentence or two.

    Parameters
    ----------
    knowledge : sequence of Mechanism
        What is known of causes.
    witness : Witness
        The run, and the good ones it is compared with.
    causes : sequence of Cause
        Best first.
    """
    run = witness.run
    if run.outcome == "accepted":
        return "The batch was accepted: nothing to explain."
    unsaid = "" if run.outcome else "Nobody has said yet how it came out. "
    if not causes and witness.broken:
        return f"{unsaid}No known cause found. Limits not met: {_limits(witness.broken)}."
    if not causes:
        seen = "its limits and the good batches" if witness.compared else "its limits"
        return f"{unsaid}Nothing is outside {seen}."
    first = causes[0]
    if not first.proven:
        return unsaid + _unmeasured(knowledge, witness, causes)
    if not first.known:
        return unsaid + _by_limit_alone(first) + _rest(knowledge, witness, causes)
    if unsaid:
        return f"{unsaid}If it failed, {_likely(first)}."
    rival = next((c for c in causes[1:] if _are_rivals(first, c)), None)
    if rival is not None:
        return (
            f"The evidence does not single out a cause: {first.mechanism.cause}, or "
            f"{rival.mechanism.cause}."
        )
    if all(e.doubtful for e in first.evidence) or (
        first.mechanism.sensors and first.score >= MOST_LIKELY
    ):
        says = f"The sensors are more likely at fault: {first.mechanism.cause}."
    else:
        says = f"{capital(_likely(first))}."
    return says + _rest(knowledge, witness, causes)


def _likely(cause: Cause) -> str:
    """Return a cause with how sure it is."""
    if cause.score >= MOST_LIKELY:
        return f"most likely {cause.mechanism.cause}"
    if cause.score >= MAY_BE:
        return f"it may be that {cause.mechanism.cause}"
    return f"can't tell; the strongest sign is that {cause.mechanism.cause}"


def _by_limit_alone(cause: Cause) -> str:
    """Return that a limit was broken from which no known cause leads to a defect."""
    return (
        f"No known cause of {quoted(cause.fits)} was found, but a limit was not met in a stage "
        f"that can lead to it: {'; '.join(e.finding.evidence for e in cause.evidence)}."
    )


def _limits(broken: Sequence[Broken]) -> str:
    """Return broken limits in words, at most three of them."""
    more = f"; and {len(broken) - _MOST_LIMITS} more" if len(broken) > _MOST_LIMITS else ""
    return "; ".join(b.says for b in broken[:_MOST_LIMITS]) + more


def _unmeasured(knowledge: Sequence[Mechanism], witness: Witness, causes: Sequence[Cause]) -> str:
    """Return which causes are left where what was measured shows none."""
    first = causes[0]
    behind = [b for d in first.fits for b in of_stages_behind(witness.broken, d, knowledge)]
    if behind:
        limits = _limits(tuple(dict.fromkeys(behind)))
        says = f"No known cause of {quoted(first.fits)} shows. Limits not met: {limits}."
    else:
        says = f"Nothing that was measured explains {quoted(first.fits)}."
    if first.evidence:
        return (
            f"{says} Of what was not measured the likeliest is that {first.mechanism.cause} "
            f"({first.evidence[0].finding.evidence})."
        )
    alike = [c.mechanism.cause for c in causes if not c.proven and set(c.fits) & set(first.fits)]
    return f"{says} What was not measured may: {'; or '.join(alike[:3])}."


def _rest(knowledge: Sequence[Mechanism], witness: Witness, causes: Sequence[Cause]) -> str:
    """Return what explains the defects that the first cause does not lead to."""
    says, first = "", causes[0]
    left = [d for d in witness.run.defects if d not in first.fits] if first.fits else []
    for cause in causes[1:]:
        fits = [d for d in left if d in cause.fits]
        if fits and cause.known and cause.rank >= EXPLAINS:
            says += f" For {quoted(fits)}, {_likely(cause)}."
            left = [d for d in left if d not in fits]
    unexplained = []
    for defect in left:
        behind = of_stages_behind(witness.broken, defect, knowledge)
        if behind:
            says += f" No known cause of {quoted([defect])} shows; not met: {_limits(behind)}."
        else:
            unexplained.append(defect)
    if unexplained:
        says += f" That does not explain {quoted(unexplained)}."
    return says


def _are_rivals(first: Cause, second: Cause) -> bool:
    """Whether two causes explain the same defects about equally well."""
    same = not first.fits or bool(set(first.fits) & set(second.fits))
    return same and second.proven and first.rank - second.rank < _CLOSE


def quoted(texts: Sequence[str]) -> str:
    """Write words of the sheet, such as defects, one after the other."""
    return " and ".join(f"“{text}”" for text in texts)


def missing(
    knowledge: Sequence[Mechanism], witness: Witness, causes: Sequence[Cause]
) -> tuple[str, ...]:
    """Return what was not measured although it would decide about the defects.

    Parameters
    ----------
    knowledge : sequence of Mechanism
        What is known of causes.
    witness : Witness
        The run, and the good ones it is compared with.
    causes : sequence of Cause
        Those found, strongest first.
    """
    defects = set(witness.run.defects)
    found: list[str] = []
    for mechanism in knowledge:
        if not defects & set(mechanism.leads_to):
            continue
        for sign in mechanism.shows:
            feature = witness.run.features.get(sign.of) if sign.what == "feature" else None
            if feature is not None and feature.value is None:
                found.append(f"{feature.spec.label}: {feature.missing}")
        named = [c for c in causes if c.mechanism.id == mechanism.id]
        if named and not named[0].proven:
            found.append(f"whether {mechanism.cause}; it was not if {mechanism.wrong_if}")
    for cause in causes[:1]:
        channels = {e.finding.channel or "" for e in cause.evidence}
        found += [
            f"whether the sensor read right ({says})"
            for channel, says in witness.run.unchecked.items()
            if channel in channels
        ]
    if len(witness.good) < FEWEST:
        found.append(
            f"good batches to compare with: {len(witness.good)} of at least {FEWEST}; nothing is "
            "claimed from so few"
        )
    return tuple(dict.fromkeys(found))


def unlike_words(witness: Witness) -> tuple[str, ...]:
    """Return the numbers unlike those of the good runs, in words."""
    found = []
    for name, chance in witness.chance.items():
        odd, feature = witness.unlike[name], witness.run.features[name]
        if chance < CLAIM and feature.value is not None:
            way = "low" if odd.away < 0.0 else "high"
            found.append(f"{feature_text(feature)} is {way}; {good_text(odd, feature.spec)}")
    return tuple(found)

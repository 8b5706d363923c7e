"""What an explanation says in words: the answer in a sentence, what was not measured, what is odd.

Pure; the ranked causes of logger.review.why.explain and what the run shows in, text out.
"""

from collections.abc import Sequence

from logger.review.features.portrait import Portrait
from logger.review.why.evidence import CLAIM, Witness, feature_text, good_text
from logger.review.why.explanation import Cause
from logger.review.why.knowledge import Mechanism
from logger.review.why.unlike import FEWEST

EXPLAINS = 0.5
"""Score from which a cause explains a defect."""
_CLOSE = 0.08


def answer(run: Portrait, witness: Witness, causes: Sequence[Cause]) -> str:
    """Return the answer in a sentence or two.

    Parameters
    ----------
    run : Portrait
        The run.
    witness : Witness
        What it was held against.
    causes : sequence of Cause
        Best first.
    """
    if run.outcome == "accepted":
        return "The batch was accepted: nothing to explain."
    unsaid = "" if run.outcome else "Nobody has said yet how it came out. "
    if not causes:
        seen = "its limits and the good runs" if witness.compared else "its limits"
        return f"{unsaid}Nothing stands out against {seen}."
    first = causes[0]
    if not first.proven:
        return unsaid + _unmeasured(causes)
    if unsaid:
        return f"{unsaid}If it failed, most likely {first.mechanism.cause}."
    rival = next((c for c in causes[1:] if _are_rivals(first, c)), None)
    if rival is not None:
        return (
            f"The evidence does not single out a cause: {first.mechanism.cause}, or "
            f"{rival.mechanism.cause}."
        )
    if first.mechanism.sensors or all(e.doubtful for e in first.evidence):
        says = f"The sensors are the likelier culprit: {first.mechanism.cause}."
    else:
        says = f"Most likely {first.mechanism.cause}."
    return says + _rest(run, first, causes)


def _unmeasured(causes: Sequence[Cause]) -> str:
    """Return which causes are left where nothing that was measured explains."""
    first = causes[0]
    if first.evidence:
        return (
            f"Nothing that was measured explains {quoted(first.fits)}. Of what was not measured "
            f"the likeliest is that {first.mechanism.cause} ({first.evidence[0].finding.evidence})."
        )
    alike = [c.mechanism.cause for c in causes if not c.proven and set(c.fits) & set(first.fits)]
    return (
        f"Nothing that was measured explains {quoted(first.fits)}. What was not measured may: "
        f"{'; or '.join(alike[:3])}."
    )


def _rest(run: Portrait, first: Cause, causes: Sequence[Cause]) -> str:
    """Return what explains the defects that the first cause does not lead to."""
    says = ""
    left = [d for d in run.defects if d not in first.fits] if first.fits else []
    for cause in causes[1:]:
        fits = [d for d in left if d in cause.fits]
        if fits and cause.score >= EXPLAINS:
            says += f" For {quoted(fits)}, most likely {cause.mechanism.cause}."
            left = [d for d in left if d not in fits]
    if left:
        says += f" That does not explain {quoted(left)}."
    return says


def _are_rivals(first: Cause, second: Cause) -> bool:
    """Whether two causes explain the same defects about equally well."""
    same = not first.fits or bool(set(first.fits) & set(second.fits))
    return same and second.proven and first.score - second.score < _CLOSE


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
            f"good runs to compare with: {len(witness.good)} of at least {FEWEST}; nothing is "
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
            found.append(f"{feature_text(feature)} is {way}: {good_text(odd, feature.spec)}")
    return tuple(found)

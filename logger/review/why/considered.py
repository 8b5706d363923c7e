"""Every candidate cause that was looked at, with the number that rules it out or leaves it open.

Pure; used by logger.review.why.explain after the causes are ranked. Nothing is decided here.
"""

from collections.abc import Sequence

from logger.model.explained.considered import Considered, Looked, Standing
from logger.review.why.evidence import Witness
from logger.review.why.explanation import Cause
from logger.review.why.knowledge import Mechanism, Sign

_FEW_GOOD = "no good batch to compare with"


def considered(
    knowledge: Sequence[Mechanism], witness: Witness, causes: Sequence[Cause]
) -> tuple[Considered, ...]:
    """Return the candidates: causes that lead to a defect of the run, and all that were named.

    Parameters
    ----------
    knowledge : sequence of Mechanism
        What is known of causes.
    witness : Witness
        The run, and the good ones it is compared with.
    causes : sequence of Cause
        Those found, best first.
    """
    if witness.run.outcome == "accepted":
        return ()
    named = {c.mechanism.id: c for c in causes}
    found = []
    for mechanism in knowledge:
        fits = tuple(d for d in witness.run.defects if d in mechanism.leads_to)
        cause = named.get(mechanism.id)
        if fits or cause is not None:
            found.append(_candidate(mechanism, fits, cause, witness))
    return tuple(sorted(found, key=lambda c: -(c.score or 0.0)))


def _candidate(
    mechanism: Mechanism, fits: tuple[str, ...], cause: Cause | None, witness: Witness
) -> Considered:
    looked = [_looked(sign, witness, mechanism) for sign in mechanism.shows]
    standing, deciding = _standing(mechanism, looked, cause)
    return Considered(
        cause=mechanism.id,
        title=mechanism.cause,
        fits=fits,
        standing=standing,
        why=deciding.says if deciding is not None else "no sensor can tell",
        score=None if cause is None else round(cause.score, 3),
        looked=tuple(sorted(looked, key=lambda one: one is not deciding)),
    )


def _standing(
    mechanism: Mechanism, looked: Sequence[Looked], cause: Cause | None
) -> tuple[Standing, Looked | None]:
    """Return how a candidate stands, and the sign that decides it."""
    shown = max(looked, key=lambda one: one.strength or 0.0, default=None)
    if shown is not None and shown.strength:
        return ("named" if cause is not None and cause.proven else "weak"), shown
    telling = [
        one
        for sign, one in zip(mechanism.shows, looked, strict=True)
        if sign.what == "feature" and not sign.lesser
    ]
    told = [one for one in telling or looked if one.strength is not None]
    untold = next((one for one in telling or looked if one.strength is None), None)
    if told and cause is None and not mechanism.unseen:
        return "ruled out", told[0]
    return "open", untold or (looked[0] if looked else None)


def _looked(sign: Sign, witness: Witness, mechanism: Mechanism) -> Looked:
    evidence = witness.look(sign, mechanism.leads_to)
    found = evidence.finding if evidence is not None else None
    if found is None and sign.what == "limit":
        kept = [f for f in witness.run.findings if f.key == sign.of and f.verdict == "met"]
        found = kept[0] if kept else None
    if found is None:
        return Looked(
            what=sign.what,
            of=sign.of,
            direction=sign.direction,
            strength=None,
            says=_why_untold(sign, witness),
        )
    return Looked(
        what=sign.what,
        of=sign.of,
        direction=sign.direction,
        strength=0.0 if evidence is None else round(evidence.strength, 3),
        value=found.value,
        expanded_uncertainty=found.expanded_uncertainty,
        unit=found.unit,
        low=found.low,
        high=found.high,
        says=found.evidence,
    )


def _why_untold(sign: Sign, witness: Witness) -> str:
    """Return why a sign could not be told."""
    feature = witness.run.features.get(sign.of) if sign.what == "feature" else None
    if feature is not None:
        return f"{feature.spec.label}: {feature.missing}"
    if sign.what in ("lot", "kind", "unweighed"):
        return _FEW_GOOD
    return "not measured, or the sheet has no such target"

"""Why a batch came out as it did: causes in order, each with its evidence, or that none stands out.

Pure; portraits of runs and the knowledge in, an explanation out. Three kinds of evidence are kept
apart: limits of the sheet broken, unlike the good runs, and what is known to lead to the defects.
A run that was accepted is not accused.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from logger.review.features.portrait import Portrait
from logger.review.why.answer import EXPLAINS, answer, missing, quoted, unlike_words
from logger.review.why.broken import Broken, can_lead, of_stages_behind
from logger.review.why.considered import considered
from logger.review.why.evidence import Evidence, Witness
from logger.review.why.explanation import Cause, Explanation, capital
from logger.review.why.knowledge import Mechanism, Sign
from logger.review.why.likelihood import (
    ANY,
    Likelihoods,
    Shown,
    builtin_likelihoods,
    chances,
)

__all__ = ["Cause", "Explanation", "explain"]

LISTED_FROM = 0.2
SUREST = 0.95
"""Highest score: where two causes are in a batch, one that shows clearly need not be the one that
brought the defect."""
_FITS, _UNSAID, _MISFIT = 1.0, 0.7, 0.35
_LEFT_OVER = 0.3  # of a cause that cannot be seen, where nothing that can be seen explains
_NO_KNOWN_CAUSE = 0.45  # of a broken limit in a stage that can lead to it
_SECOND, _SUPPORT = 0.3, 0.1
_USUAL, _CONTRADICTED = 0.4, 0.6  # what a sign against a cause takes away of it


def explain(
    run: Portrait,
    good: Sequence[Portrait],
    knowledge: Sequence[Mechanism],
    learned: Likelihoods | None = None,
) -> Explanation:
    """Explain a run.

    Parameters
    ----------
    run : Portrait
        The run.
    good : sequence of Portrait
        Accepted runs of the same product, the latest first.
    knowledge : sequence of Mechanism
        What leads to what.
    learned : Likelihoods or None
        How likely causes are; None is what comes with the program.

    Returns
    -------
    Explanation
        Causes best first.
    """
    witness = witness_of(run, good, knowledge)
    known = any(set(m.leads_to) & set(run.defects) for m in knowledge)
    causes: list[Cause] = []
    if run.outcome != "accepted":
        causes = [c for m in knowledge if (c := _cause(m, witness, known)) is not None]
        causes = _without_what_follows(causes)
        causes += _by_limit_alone(knowledge, witness, causes)
        left_over = _left_over(knowledge, witness, causes)
        again = {c.mechanism.id for c in left_over}
        causes = [*(c for c in causes if c.mechanism.id not in again), *left_over]
        likely = _chances(knowledge, witness, causes, learned or builtin_likelihoods())
        causes = [_scored(c, likely.get(c.mechanism.id, likely[ANY])) for c in causes]
        causes.sort(key=lambda c: (-round(c.score, 2), -c.rank))
    return Explanation(
        run=run.run_id,
        outcome=run.outcome,
        defects=run.defects,
        says=answer(knowledge, witness, causes),
        causes=tuple(causes),
        compared_with=tuple(g.run_id for g in witness.good),
        missing=missing(knowledge, witness, causes),
        limits=tuple(f for f in run.findings if f.verdict == "not met"),
        unlike=unlike_words(witness),
        by_piece=tuple(told.says for told in witness.pieces),
        considered=considered(knowledge, witness, causes),
    )


def witness_of(run: Portrait, good: Sequence[Portrait], knowledge: Sequence[Mechanism]) -> Witness:
    """Return a run as a witness, asked first about what leads to its defects.

    Parameters
    ----------
    run : Portrait
        The run.
    good : sequence of Portrait
        Accepted runs of the same product, the latest first.
    knowledge : sequence of Mechanism
        What leads to what.
    """
    suspects = {
        sign.of
        for m in knowledge
        if set(m.leads_to) & set(run.defects)
        for sign in m.shows
        if sign.what == "feature"
    }
    return Witness(run, good, suspects)


def shown_by(knowledge: Sequence[Mechanism], witness: Witness) -> dict[str, Shown]:
    """Return what a run shows of each cause.

    Parameters
    ----------
    knowledge : sequence of Mechanism
        What leads to what.
    witness : Witness
        The run, and the good ones it is compared with.
    """
    found = {}
    for mechanism in knowledge:
        strength: float | None = _strength(mechanism, witness)
        if not strength and _may_be_unseen(mechanism, witness):
            strength = None
        leads_to = tuple(d for d in witness.run.defects if d in mechanism.leads_to)
        found[mechanism.id] = Shown(
            strength=strength,
            leads_to=leads_to,
            doubtful=_is_doubtful(mechanism, witness),
            spared=not mechanism.some and _some_alike(mechanism, witness),
        )
    return found


def _scored(cause: Cause, chance: float) -> Cause:
    return replace(cause, score=min(chance, SUREST))


def _is_doubtful(mechanism: Mechanism, witness: Witness) -> bool:
    """Whether all that shows a cause comes from channels that were silent or stuck."""
    shown = _seen(mechanism.shows, witness, mechanism.leads_to)
    return bool(shown) and all(e.doubtful for e in shown)


def _chances(
    knowledge: Sequence[Mechanism],
    witness: Witness,
    causes: Sequence[Cause],
    learned: Likelihoods,
) -> Mapping[str, float]:
    """Return how likely each cause is; of defects of which nothing is known any cause may be.

    Notes
    -----
    What follows from other causes takes no share from them, unless it is among `causes` itself.
    """
    named = {c.mechanism.id for c in causes}
    known = [d for d in witness.run.defects if any(d in m.leads_to for m in knowledge)]
    shown = shown_by([m for m in knowledge if not m.follows or m.id in named], witness)
    return chances(shown, known, learned, compared=witness.compared)


def _strength(mechanism: Mechanism, witness: Witness) -> float:
    """Return how strongly the run shows the signs of a cause, 0 to 1."""
    shown = _seen(mechanism.shows, witness, mechanism.leads_to)
    if not shown:
        return 0.0
    first = shown[0].strength
    rest = [e.strength for e in shown[1:] if not _is_limit_again(e, shown[0])]
    seen = first + (1.0 - first) * _SECOND * max(rest, default=0.0)
    along = _seen(mechanism.goes_with, witness, mechanism.leads_to)
    seen += (1.0 - seen) * _SUPPORT * max((e.strength for e in along), default=0.0)
    return seen * _spoken_against(mechanism, witness, shown)


def _cause(mechanism: Mechanism, witness: Witness, known: bool) -> Cause | None:
    """Return the cause if the run shows any of its signs enough.

    Notes
    -----
    `known` is whether any of the run's defects is in the knowledge; else they tell nothing apart.
    """
    fits = tuple(d for d in witness.run.defects if d in mechanism.leads_to)
    rank = _strength(mechanism, witness) * (_FITS if fits else _MISFIT if known else _UNSAID)
    if rank < LISTED_FROM:
        return None
    shown = _seen(mechanism.shows, witness, mechanism.leads_to)
    evidence = (*shown, *_seen(mechanism.goes_with, witness, mechanism.leads_to))
    return Cause(
        mechanism=mechanism,
        score=0.0,
        rank=rank,
        stage=_stage_of(mechanism, witness.run, evidence),
        says=f"{capital(mechanism.cause)}: {evidence[0].finding.evidence}. {mechanism.because}",
        evidence=evidence,
        fits=fits,
    )


def _is_limit_again(evidence: Evidence, first: Evidence) -> bool:
    """Whether a broken limit beside another adds nothing: pieces, and a number made of them."""
    return evidence.kind == first.kind == "limit" and "limit" in (
        evidence.sign.what,
        first.sign.what,
    )


def _seen(signs: Sequence[Sign], witness: Witness, leads_to: Collection[str]) -> list[Evidence]:
    all_of_them = (witness.look(sign, leads_to) for sign in signs)
    looked = [e for e in all_of_them if e is not None and e.strength > 0.0]
    beyond = {_limit_of(e) for e in looked if e.sign.what == "feature" and e.kind == "limit"}
    once = [e for e in looked if not (e.sign.what == "limit" and _limit_of(e) in beyond)]
    return sorted(once, key=lambda e: -e.strength)


def _limit_of(evidence: Evidence) -> tuple[str, float | None, float | None, int | None]:
    """Return what makes a limit the same one: a limit of each piece is none of the whole."""
    found = evidence.finding
    return found.stage, found.low, found.high, found.piece


def _spoken_against(mechanism: Mechanism, witness: Witness, shown: Sequence[Evidence]) -> float:
    """Return what is left of a suspicion, 0 to 1, after what speaks against it."""
    left = 1.0
    used = {e.sign.of for e in shown}
    for evidence in _seen(mechanism.against, witness, mechanism.leads_to):
        if evidence.sign.direction == "some" or evidence.sign.of not in used:
            weight = _USUAL if evidence.sign.direction == "usual" else _CONTRADICTED
            left *= 1.0 - weight * evidence.strength
    return left


def _without_what_follows(causes: Sequence[Cause]) -> list[Cause]:
    """Leave out what follows from other causes where one of these shows."""
    roots = [c for c in causes if not c.mechanism.follows and c.rank >= EXPLAINS]

    def shows_already(cause: Cause) -> bool:
        return any(not cause.fits or set(root.fits) & set(cause.fits) for root in roots)

    return [c for c in causes if not (c.mechanism.follows and shows_already(c))]


def _by_limit_alone(
    knowledge: Sequence[Mechanism], witness: Witness, causes: Sequence[Cause]
) -> list[Cause]:
    """Return broken limits that can lead to defects which no cause explains, one for a stage."""
    explained = {d for c in causes if c.rank >= EXPLAINS for d in c.fits}
    by_stage: dict[str, dict[Broken, list[str]]] = {}
    for defect in witness.run.defects:
        if defect in explained:
            continue
        for broken in of_stages_behind(witness.broken, defect, knowledge):
            if can_lead(broken, defect, knowledge):
                of_stage = by_stage.setdefault(broken.first.stage, {})
                of_stage.setdefault(broken, []).append(defect)
    found = []
    for stage, limits in by_stage.items():
        fits = tuple(d for d in witness.run.defects if any(d in led for led in limits.values()))
        evidence = tuple(witness.as_evidence(broken) for broken in limits)
        mechanism = _by_limit(next(iter(limits)).kind, fits, evidence)
        found.append(
            Cause(
                mechanism=mechanism,
                score=0.0,
                rank=_NO_KNOWN_CAUSE,
                stage=stage,
                says=f"{capital(mechanism.cause)}. {mechanism.because}",
                evidence=evidence,
                fits=fits,
                known=False,
            )
        )
    return found


def _by_limit(kind: str, fits: tuple[str, ...], evidence: Sequence[Evidence]) -> Mechanism:
    """Return a broken limit as a cause of which nothing else is known."""
    says = "; ".join(e.finding.evidence for e in evidence)
    return Mechanism(
        id="limit_broken",
        cause=f"a limit of this stage was not met ({says})",
        stage=kind,
        leads_to=fits,
        because=f"The stage can lead to {quoted(fits)}; how this limit does so is not known.",
        source="limits of the sheet",
        shows=tuple(e.sign for e in evidence),
        goes_with=(),
        against=(),
        wrong_if="the sensor was wrong, or the limit is tighter than the product needs",
        next_time="keep this limit, and see whether the defect stays away",
    )


def _left_over(
    knowledge: Sequence[Mechanism], witness: Witness, causes: Sequence[Cause]
) -> list[Cause]:
    """Return what was not or cannot be seen, for defects that nothing that was seen explains.

    Notes
    -----
    Causes that nothing can prove, and those of which this run measured nothing. A weak sign of its
    own, such as another lot, raises such a cause above its like; it takes the place of the same
    cause in `causes`.
    """
    explained = {d for c in causes if c.rank >= EXPLAINS for d in c.fits}
    open_defects = [d for d in witness.run.defects if d not in explained]
    weak = {c.mechanism.id: c for c in causes}
    found = []
    for mechanism in knowledge:
        fits = tuple(d for d in open_defects if d in mechanism.leads_to)
        if not fits or not _may_be_unseen(mechanism, witness):
            continue
        own = weak.get(mechanism.id)
        shown = own.evidence if own is not None else ()
        left = _LEFT_OVER * _spoken_against(mechanism, witness, shown)
        rank = 1.0 - (1.0 - left) * (1.0 - (own.rank if own is not None else 0.0))
        hint = f" A hint: {shown[0].finding.evidence}." if shown else ""
        found.append(
            Cause(
                mechanism=mechanism,
                score=0.0,
                rank=rank,
                stage=_stage_of(mechanism, witness.run, shown),
                says=(
                    f"Nothing that was measured explains {quoted(fits)}. What was not "
                    f"measured may: {mechanism.cause}.{hint} {mechanism.because}"
                ),
                evidence=shown,
                fits=fits,
                proven=False,
            )
        )
    return found


def _may_be_unseen(mechanism: Mechanism, witness: Witness) -> bool:
    """Whether a cause may be there though nothing that was measured shows it.

    Notes
    -----
    A cause of some pieces only may not, unless a defect was said of some.
    """
    if mechanism.some and not _some_alike(mechanism, witness):
        return False
    return mechanism.unseen or _is_blind(mechanism, witness)


def _some_alike(mechanism: Mechanism, witness: Witness) -> bool:
    """Whether a defect that it leads to was said of some pieces, like the others in all else."""
    return any(told.alike and told.defect in mechanism.leads_to for told in witness.pieces)


def _is_blind(mechanism: Mechanism, witness: Witness) -> bool:
    """Whether the sheet has the numbers that would tell a cause, and the run lacks all of them.

    Notes
    -----
    A lesser sign that is there, and shows nothing, does not rule the cause out.
    """
    asked = [s for s in mechanism.shows if s.what == "feature" and s.of in witness.run.features]
    telling = [s for s in asked if not s.lesser]
    return bool(asked) and all(witness.look(sign) is None for sign in telling or asked)


def _stage_of(mechanism: Mechanism, run: Portrait, evidence: Sequence[Evidence]) -> str:
    of_kind = next((s.id for s in run.sheet.stage if s.kind == mechanism.stage), "")
    return of_kind or next((e.finding.stage for e in evidence if e.finding.stage), "")

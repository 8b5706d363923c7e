"""All numbers of a run, in the order of the work.

Pure. A number that could not be had is in the list with the reason. What a kind of stage has alone
is taken by its own module, ``take`` in ``logger/review/features/kinds/<kind>.py``.
"""

from collections.abc import Iterator

from logger.model.kinds.record.kind import Kind
from logger.model.kinds.record.parts import part
from logger.model.kinds.registry import KINDS
from logger.review.features.facts import RunFacts
from logger.review.features.feature import GAPS, SPECS, Feature, have, lack
from logger.review.features.stage_features import StageFacts, stage_features

PLACE = "logger.review.features.kinds.{kind}"
_PLACE_OF = {spec.name: place for place, spec in enumerate(SPECS)}


def features(facts: RunFacts) -> dict[str, Feature]:
    """Take the numbers of a run.

    Parameters
    ----------
    facts : RunFacts
        The run.

    Returns
    -------
    dict of str to Feature
        By name; only those whose stage the sheet has.
    """
    found: dict[str, Feature] = {}
    for kind in KINDS:
        found |= {feature.spec.name: feature for feature in _of_kind(facts, kind, found)}
    found[GAPS.name] = _gaps(facts)
    return dict(sorted(found.items(), key=lambda item: _PLACE_OF[item[0]]))


def _of_kind(facts: RunFacts, kind: Kind, before: dict[str, Feature]) -> Iterator[Feature]:
    """Yield the numbers of the sheet's first stage of a kind."""
    stage, row = facts.stage(kind.name)
    if stage is None:
        return
    here = StageFacts(facts=facts, stage=stage, row=row, before=before)
    yield from stage_features(here)
    if any(figure.taken is None for figure in kind.figures):
        yield from part(kind.name, "features", PLACE).take(here)


def _gaps(facts: RunFacts) -> Feature:
    ends = [float(r.end_s) for r in facts.results.stages if r.end_s is not None]
    if not ends:
        return lack(GAPS.name, "", "no stage has ended")
    last_s = max(ends)
    lost_s = 0.0
    for gap in facts.results.gaps:
        until_s = last_s if gap.to_s is None else float(gap.to_s)
        lost_s += max(0.0, until_s - float(gap.from_s))
    return have(GAPS.name, "", 100.0 * lost_s / (max(1, len(facts.bench.channel)) * last_s), 0.0)

"""All numbers of a run, in the order of the work.

Pure. A number that could not be had is in the list with the reason.
"""

from logger.review.features.batch_features import batch_features
from logger.review.features.facts import RunFacts
from logger.review.features.feature import SPECS, Feature
from logger.review.features.heat_features import heat_features

_PLACE = {spec.name: place for place, spec in enumerate(SPECS)}


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
    found = [*heat_features(facts), *batch_features(facts)]
    found.sort(key=lambda f: _PLACE[f.spec.name])
    return {f.spec.name: f for f in found}

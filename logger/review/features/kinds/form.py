"""What the bare pieces weigh.

Pure; used by logger.review.features.features.
"""

from collections.abc import Iterator

import numpy as np

from logger.review.features.feature import Feature, have, lack
from logger.review.features.stage_features import StageFacts, known


def take(here: StageFacts) -> Iterator[Feature]:
    """Yield the mean mass of the bare pieces."""
    facts, stage = here.facts, here.stage
    bare = known(p.bare_mass_g for p in facts.results.pieces)
    if bare:
        u_g = facts.judged_u(stage.id, "piece_g")
        yield have("piece_g", stage.id, float(np.mean(bare)), u_g)
    else:
        yield lack("piece_g", stage.id, "no piece was weighed")

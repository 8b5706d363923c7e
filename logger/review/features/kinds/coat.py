"""How thick, how heavy and how even the coats are.

Pure; used by logger.review.features.features.
"""

from collections.abc import Iterator

import numpy as np

from logger.review.features.feature import Feature, have, lack
from logger.review.features.stage_features import StageFacts, known
from logger.science.gel.coating import spread


def take(here: StageFacts) -> Iterator[Feature]:
    """Yield the means of the coats and their spread."""
    facts, stage = here.facts, here.stage
    rows = facts.results.pieces
    thick, masses = known(r.coat_mm for r in rows), known(r.coat_mass_g for r in rows)
    for name, values in (("coat_mm", thick), ("coat_g", masses)):
        if values:
            yield have(name, stage.id, float(np.mean(values)), facts.judged_u(stage.id, name))
        else:
            yield lack(name, stage.id, "no coat was weighed")
    relative = spread(thick).relative if len(thick) > 2 else None
    if relative is None:
        yield lack("coat_spread_percent", stage.id, "fewer than three coats were weighed")
    else:
        yield have("coat_spread_percent", stage.id, 100.0 * relative, 1.0)

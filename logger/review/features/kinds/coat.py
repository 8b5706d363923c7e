"""How thick, how heavy and how even the coats are.

Pure; used by logger.review.features.features.
"""

from collections.abc import Iterator

from logger.review.features.feature import Feature, have, lack
from logger.review.features.stage_features import StageFacts, known, of_pieces
from logger.science.gel.coating import spread

_NONE = "no coat was weighed"


def take(here: StageFacts) -> Iterator[Feature]:
    """Yield the means of the coats, the smallest and largest, and their spread."""
    facts, stage = here.facts, here.stage
    rows = facts.results.pieces
    thick, masses = known(r.coat_mm for r in rows), known(r.coat_mass_g for r in rows)
    yield from of_pieces(here, thick, ("coat_mm", "coat_thinnest_mm", "coat_thickest_mm"), _NONE)
    yield from of_pieces(here, masses, ("coat_g", "coat_lightest_g", "coat_heaviest_g"), _NONE)
    relative = spread(thick).relative if len(thick) > 2 else None
    if relative is None:
        yield lack("coat_spread_percent", stage.id, "fewer than three coats were weighed")
    else:
        yield have("coat_spread_percent", stage.id, 100.0 * relative, 1.0)

"""What the bare pieces weigh.

Pure; used by logger.review.features.features.
"""

from collections.abc import Iterator

from logger.review.features.feature import Feature
from logger.review.features.stage_features import StageFacts, known, of_pieces


def take(here: StageFacts) -> Iterator[Feature]:
    """Yield the mean mass of the bare pieces, that of the lightest and of the heaviest."""
    bare = known(p.bare_mass_g for p in here.facts.results.pieces)
    names = ("piece_g", "piece_lightest_g", "piece_heaviest_g")
    yield from of_pieces(here, bare, names, "no piece was weighed")

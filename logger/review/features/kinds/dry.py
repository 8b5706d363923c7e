"""What the pieces lost in drying.

Pure; used by logger.review.features.features.
"""

from collections.abc import Iterator

from logger.review.features.feature import Feature, Span, have, lack
from logger.review.features.stage_features import StageFacts


def take(here: StageFacts) -> Iterator[Feature]:
    """Yield the mass lost in drying."""
    facts, stage = here.facts, here.stage
    found = next(iter(facts.judged(stage.id, "dry_loss_percent")), None)
    if found is None or found.value is None:
        yield lack("dry_loss_percent", stage.id, "the loss was not measured")
        return
    u = facts.judged_u(stage.id, "dry_loss_percent")
    span = Span(found.channel, found.from_s, found.to_s)
    yield have("dry_loss_percent", stage.id, found.value, u, span)

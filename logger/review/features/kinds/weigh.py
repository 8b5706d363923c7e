"""How far off the sheet the ingredients were weighed in.

Pure; used by logger.review.features.features.
"""

import math
from collections.abc import Callable, Iterator

from logger.model.sheet import Ingredient
from logger.review.features.facts import weighed_of
from logger.review.features.feature import Feature, have, lack
from logger.review.features.stage_features import StageFacts

_WEIGHED: tuple[tuple[str, Callable[[Ingredient], bool]], ...] = (
    ("fat_off_percent", lambda i: i.phase == "fat"),
    ("water_off_percent", lambda i: i.phase == "water"),
    ("binder_off_percent", lambda i: i.substance == "binder"),
    ("alginate_off_percent", lambda i: i.substance == "alginate"),
    ("salt_off_percent", lambda i: i.salt is not None),
)


def take(here: StageFacts) -> Iterator[Feature]:
    """Yield how far each group of ingredients is off the sheet."""
    facts, stage = here.facts, here.stage
    weighed = weighed_of(facts)
    unsure = {r.ingredient for r in facts.results.weighings if not r.sure}
    spreads = {r.ingredient: r.expanded_uncertainty_g for r in facts.results.weighings}
    for name, belongs in _WEIGHED:
        wanted = [i for i in facts.sheet.ingredient if belongs(i)]
        if not wanted:
            continue
        silent = [i.name for i in wanted if i.name not in weighed]
        if silent:
            untold = [each for each in silent if each in unsure]
            if untold:
                why = f"can't tell which load on the scale was {', '.join(untold)}"
            else:
                why = f"{', '.join(silent)} was not weighed in"
            yield lack(name, stage.id, why)
            continue
        planned_g = sum(i.mass_g for i in wanted)
        off = 100.0 * (sum(weighed[i.name] for i in wanted) / planned_g - 1.0)
        expanded = (spreads.get(i.name) for i in wanted)
        u_g = math.hypot(*(math.nan if u is None else u / 2.0 for u in expanded))
        yield have(name, stage.id, off, 100.0 * u_g / planned_g)

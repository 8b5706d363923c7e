"""What has been weighed in so far: shares of alginate, binder and salt, and what is too much.

Pure; used by logger.watch.stages.weigh.watcher and weighed. Salt counts without its crystal water.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from logger.model.sheet import Ingredient
from logger.model.written import Band
from logger.science.calcium.portions import share_percent, to_add_g
from logger.science.calcium.salts import salt_named
from logger.words.digits import exact
from logger.words.values import exact_text, with_unit

_SHOWN = ("alginate", "binder", "citrate", "salt")


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """One substance in its phase.

    Attributes
    ----------
    name, phase : str
        Ingredient and phase.
    percent, planned_percent : float
        Now and by the sheet [% by mass]; a calcium salt as anhydrous.
    complete : bool
        Whether everything of the phase has been weighed in.
    """

    name: str
    phase: str
    percent: float
    planned_percent: float
    complete: bool
    anhydrous: bool

    def says(self) -> str:
        """Return the share in a sentence."""
        so_far = "" if self.complete else " so far"
        without = " without crystal water" if self.anhydrous else ""
        return (
            f"{self.name} in the {self.phase} phase{so_far}: "
            f"{with_unit(exact(self.percent, 2), '%')}{without}, "
            f"planned {with_unit(exact(self.planned_percent, 2), '%')}"
        )


def shares(wanted: Sequence[Ingredient], weighed_g: Mapping[str, float]) -> list[Share]:
    """Return the shares of what was weighed in; a phase of one ingredient has none.

    Parameters
    ----------
    wanted : sequence of Ingredient
        All that belongs into the batch.
    weighed_g : mapping
        Masses so far by name [g].
    """
    found = []
    for ingredient in wanted:
        mass_g = weighed_g.get(ingredient.name)
        if mass_g is None or mass_g <= 0.0:
            continue
        if ingredient.salt is None and ingredient.substance not in _SHOWN:
            continue
        phase = [i for i in wanted if i.phase == ingredient.phase]
        others_g = sum(max(weighed_g.get(i.name, 0.0), 0.0) for i in phase if i is not ingredient)
        planned_g = sum(i.mass_g for i in phase if i is not ingredient)
        if others_g <= 0.0 or planned_g <= 0.0:
            continue
        pure = ingredient.purity_percent / 100.0
        if ingredient.salt is not None:
            pure *= salt_named(ingredient.salt).anhydrous_share
        found.append(
            Share(
                name=ingredient.name,
                phase=ingredient.phase,
                percent=share_percent(mass_g, others_g, pure_share=pure)[0],
                planned_percent=share_percent(ingredient.mass_g, planned_g, pure_share=pure)[0],
                complete=all(i.name in weighed_g for i in phase),
                anhydrous=ingredient.salt is not None,
            )
        )
    return found


def too_much(wanted: Sequence[Ingredient], weighed_g: Mapping[str, float]) -> list[str]:
    """Return what to do about the ingredient that was overshot most; empty when none was.

    Parameters
    ----------
    wanted : sequence of Ingredient
        What the sheet asks for.
    weighed_g : mapping
        What was weighed in [g], by the ingredient's name.
    """
    over = [
        (weighed_g[i.name] / i.mass_g, i)
        for i in wanted
        if i.tolerance_percent is not None
        and weighed_g.get(i.name, 0.0) > i.mass_g + tolerance_g(i)
    ]
    if not over:
        return []
    _, worst = max(over, key=lambda pair: pair[0])
    phase = {i.name: i.mass_g for i in wanted if i.phase == worst.phase}
    add = to_add_g(phase, weighed_g, worst.name)
    listed = ", ".join(
        f"{exact_text(mass_g, 'g')} {name}" for name, mass_g in add.items() if mass_g > 0.0
    )
    text = f"Too much {worst.name}: take some out"
    return [f"{text}, or still weigh in {listed} to keep its phase" if listed else text]


def tolerance_g(ingredient: Ingredient) -> float:
    """Return how far the mass of an ingredient may be off [g]; 0 where the sheet does not say."""
    return ingredient.mass_g * (ingredient.tolerance_percent or 0.0) / 100.0


def mass_band(ingredient: Ingredient) -> Band | None:
    """Return the band of the mass of an ingredient, where the sheet gives a tolerance."""
    if ingredient.tolerance_percent is None:
        return None
    reach_g = tolerance_g(ingredient)
    return Band(low=ingredient.mass_g - reach_g, high=ingredient.mass_g + reach_g, unit="g")

"""The pour, and stirring on, as acts of the cook. Pure."""

import numpy as np

from logger.virtual.batch.acts import PouredFat
from logger.virtual.batch.cook import Cook, bath_is_ready
from logger.virtual.batch.ware import BOWL_G, FRIDGE_C

RESIDUE_G = 2.4
"""Fat that stays in the pan."""


def act(cook: Cook) -> None:
    """Put the bowl on its scale, stir, pour the fat in."""
    bowl, batch = cook.script.bowl, cook.batch
    cook.takes(5.0)
    on_s = cook.now
    bowl.put(on_s, BOWL_G + batch.water_g, 0.6)
    cook.takes(8.0)
    if cook.rng.random() < 0.6:
        bowl.tares_s.append(cook.now)
    cook.move("emulsion", "water")
    bowl.knocks.append((cook.now, float(cook.rng.uniform(10.0, 60.0)), 0.8))
    cook.takes(5.0)
    stirred_s = cook.now
    cook.takes(8.0)
    pour = _pour(cook)
    cook.script.pour = pour
    bowl.profiles.append((pour.times_s, pour.mass_g, float("inf")))
    cook.now = pour.end_s
    cook.takes(5.0)
    cook.say("mark")
    cook.takes(42.0)
    bowl.shaken.append((stirred_s, cook.now, 0.12))
    cook.say("note", text="all in, stirring on")
    if batch.short:
        cook.takes(6.0)
        if batch.bath_c <= FRIDGE_C:
            bath_is_ready(cook)
    cook.script.bowl_span_s = (on_s, float("inf"))


def _pour(cook: Cook) -> PouredFat:
    """Draw the pour: a slow start, a hand that wanders, a last scraping of the pan."""
    batch, step_s = cook.batch, 0.1
    target_g = batch.fat_g - RESIDUE_G
    keep = float(np.exp(-step_s / 6.0))
    drift, poured, masses = 0.0, 0.0, [0.0]
    while poured < target_g - 0.05 and len(masses) < 20_000:
        kick = float(cook.rng.standard_normal()) * np.sqrt(1.0 - keep * keep)
        drift = keep * drift + batch.unevenness * kick
        start = min(1.0, 0.4 + len(masses) * step_s / 4.0)
        scraped = min(1.0, (target_g - poured) / (0.03 * target_g) + 0.12)
        poured += step_s * batch.pour_g_s * start * scraped * float(np.exp(drift))
        masses.append(min(poured, target_g))
    masses[-1] = target_g
    times_s = cook.now + step_s * np.arange(len(masses))
    return PouredFat(times_s=np.asarray(times_s, dtype=float), mass_g=np.asarray(masses))

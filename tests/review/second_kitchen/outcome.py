"""What comes out of a batch of the second kitchen, by rules of thumb of its own.

Each piece is judged; a batch has a defect that a piece has, or that its emulsion has. The
coefficients are invented and stand for no measurement.
"""

import numpy as np

from tests.review.second_kitchen.cook import Day
from tests.review.second_kitchen.product import FAT_G, WATER_G

_FAT_J_GK, _WATER_J_GK = 2.1, 4.0


def mixed_c(day: Day) -> float:
    """Return where the two phases land when they meet in a warm bowl [degC]."""
    fat, water = day.fat_g * _FAT_J_GK, WATER_G * _WATER_J_GK
    return (fat * day.fat_c + water * day.water_c) / (fat + water) - 0.8


def set_share(day: Day) -> np.ndarray:
    """Return how much of each coat has gelled: a front that goes as the root of time."""
    speed = 0.030 * np.exp(0.028 * (day.bath_c + day.bath_off_k - 20.0))
    coat_mm = 1000.0 * day.coats_g / (1010.0 * 8.4)
    return speed * np.sqrt(day.dwells_s) / coat_mm


def came_out(day: Day, rng: np.random.Generator) -> tuple[list[str], dict[int, list[str]]]:
    """Return the defects of the batch, and those of each piece, numbered from 1."""
    of_batch: list[str] = []
    set_through, fat_share = set_share(day), day.fat_g / (day.fat_g + WATER_G)
    hurt = 0.05 * rng.standard_normal()

    def batch(defect: str, badness: float) -> None:
        if badness + hurt > 1.0 and defect not in of_batch:
            of_batch.append(defect)

    mixture = mixed_c(day)
    batch("broken emulsion", max((44.0 - mixture) / 2.0, (mixture - 61.0) / 3.0))
    batch("broken emulsion", day.rate_g_min / 190.0)
    batch("grainy", (44.0 - day.fat_c) / 2.5)
    batch("greasy", max(fat_share / 0.36, day.cooled_to_c / 18.0))
    batch("leaking", 300.0 / max(day.swell_s, 1.0) / 1.4)
    batch("too soft", max(0.26 / fat_share / 1.15, (70.0 - day.core_c) / 4.0))
    batch("off taste", 45.0 / max(day.wash_s, 1.0))
    batch("skin tough", max(day.pass_s / 1200.0, (day.bath_c - 28.0) / 5.0))
    batch("skin burst", (day.core_c - 88.0) / 4.0)
    of_pieces: dict[int, list[str]] = {}
    for k in range(day.coats_g.size):
        found = []
        if set_through[k] + 0.03 * rng.standard_normal() < 0.80 or day.coats_g[k] < 3.2:
            found.append("skin burst" if day.coats_g.std() > 0.8 else "skin too thin")
        if day.dwells_s[k] > 720.0:
            found.append("skin tough")
        cold = day.core_off_k[k] < 0.0 and day.core_c + day.core_off_k[k] + hurt < 66.0
        if day.pieces_g[k] > 1.18 * 48.0 or cold:
            found.append("too soft")
        if found:
            of_pieces[k + 1] = found
    return of_batch, of_pieces


__all__ = ["FAT_G", "came_out", "mixed_c", "set_share"]

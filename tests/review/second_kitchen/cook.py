"""What a cook does in one batch of the second kitchen, and what goes wrong in it.

A `Day` is the truth: nothing of it reaches the explanation but through readings and acts.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from tests.review.second_kitchen.product import COAT_G, FAT_G, PIECE_G, PIECES


@dataclass(frozen=True, kw_only=True)
class Day:
    """One batch as it truly was; temperatures [degC], masses [g], times [s]."""

    swell_s: float
    fat_c: float
    water_c: float
    fat_g: float
    rate_g_min: float
    cooled_to_c: float
    pieces_g: np.ndarray = field(repr=False)
    coats_g: np.ndarray = field(repr=False)
    dwells_s: np.ndarray = field(repr=False)
    bath_c: float
    wash_s: float
    core_c: float
    pass_s: float
    swapped: bool = False
    bath_off_k: np.ndarray = field(default_factory=lambda: np.zeros(PIECES), repr=False)
    """How much warmer the bath is beside each piece."""
    core_off_k: np.ndarray = field(default_factory=lambda: np.zeros(PIECES), repr=False)
    """How much hotter each piece gets in the oven than the one with the probe."""
    second_core: int | None = None
    """Piece with a second core probe, counted from 0."""


def good_day(rng: np.random.Generator) -> Day:
    """Draw a batch in which all goes well."""
    return Day(
        swell_s=rng.normal(540.0, 25.0),
        fat_c=rng.normal(55.0, 0.9),
        water_c=rng.normal(51.0, 0.8),
        fat_g=rng.normal(FAT_G, 0.6),
        rate_g_min=rng.normal(75.0, 5.0),
        cooled_to_c=rng.normal(10.5, 0.7),
        pieces_g=rng.normal(PIECE_G, 1.1, PIECES),
        coats_g=rng.normal(COAT_G, 0.25, PIECES),
        dwells_s=rng.normal(450.0, 9.0, PIECES),
        bath_c=rng.normal(20.5, 0.6),
        wash_s=rng.normal(130.0, 10.0),
        core_c=rng.normal(78.0, 1.0),
        pass_s=rng.normal(400.0, 40.0),
    )


def _uneven(day: Day, rng: np.random.Generator) -> Day:
    """Four pieces get a coat half as thick again, or more."""
    coats = day.coats_g.copy()
    coats[rng.permutation(PIECES)[:4]] *= rng.uniform(1.55, 1.8)
    return replace(day, coats_g=coats)


def _late(day: Day, rng: np.random.Generator) -> Day:
    """One piece is forgotten in the bath."""
    dwells = day.dwells_s.copy()
    dwells[int(rng.integers(PIECES))] += rng.uniform(420.0, 700.0)
    return replace(day, dwells_s=dwells)


def _some_heavy(day: Day, rng: np.random.Generator) -> Day:
    """Two pieces of a cold corner of the tray are shaped far heavier."""
    masses = day.pieces_g.copy()
    masses[rng.permutation(PIECES)[:2]] *= rng.uniform(1.35, 1.5)
    return replace(day, pieces_g=masses)


def _neighbours(rng: np.random.Generator, off_k: float) -> np.ndarray:
    """Two pieces that lie together are colder, or hotter, by some kelvin."""
    off = np.zeros(PIECES)
    first = int(rng.integers(PIECES - 1))
    off[first : first + 2] = off_k + rng.normal(0.0, 0.5, 2)
    return off


def _bath_side(day: Day, rng: np.random.Generator) -> Day:
    """Two pieces hang where ice cools the bath."""
    return replace(day, bath_off_k=_neighbours(rng, rng.uniform(-17.0, -13.0)))


def _oven_corner(day: Day, rng: np.random.Generator) -> Day:
    """Two pieces lie in a corner of the oven that stays cold; the probe is in another."""
    return replace(day, core_off_k=_neighbours(rng, rng.uniform(-24.0, -17.0)))


def _probed_corner(day: Day, rng: np.random.Generator) -> Day:
    """The same, and the coldest of them has a second probe."""
    day = _oven_corner(day, rng)
    return replace(day, second_core=int(day.core_off_k.argmin()))


Wrong = Callable[[Day, np.random.Generator], Day]
WRONGS: dict[str, Wrong] = {
    "short_hydration": lambda d, r: replace(d, swell_s=r.uniform(60.0, 180.0)),
    "fat_too_cool": lambda d, r: replace(d, fat_c=r.uniform(35.0, 41.0)),
    "water_too_cold": lambda d, r: replace(d, water_c=r.uniform(24.0, 33.0)),
    "phases_too_hot": lambda d, r: replace(
        d, fat_c=r.uniform(72.0, 80.0), water_c=r.uniform(66.0, 74.0)
    ),
    "pour_too_fast": lambda d, r: replace(d, rate_g_min=r.uniform(260.0, 420.0)),
    "too_much_fat": lambda d, r: replace(d, fat_g=FAT_G * r.uniform(1.4, 1.6)),
    "too_little_fat": lambda d, r: replace(d, fat_g=FAT_G * r.uniform(0.5, 0.65)),
    "probe_swapped": lambda d, r: replace(
        d, fat_c=r.uniform(38.0, 40.5), water_c=r.uniform(57.0, 61.0), swapped=True
    ),
    "short_chill": lambda d, r: replace(d, cooled_to_c=r.uniform(22.0, 27.0)),
    "heavy_pieces": lambda d, r: replace(d, pieces_g=d.pieces_g * r.uniform(1.25, 1.4)),
    "thick_coat": lambda d, r: replace(d, coats_g=d.coats_g * r.uniform(1.6, 1.9)),
    "thin_coat": lambda d, r: replace(d, coats_g=d.coats_g * r.uniform(0.4, 0.55)),
    "short_dwell": lambda d, r: replace(d, dwells_s=d.dwells_s * r.uniform(0.3, 0.45)),
    "long_dwell": lambda d, r: replace(d, dwells_s=d.dwells_s * r.uniform(1.9, 2.5)),
    "cold_bath": lambda d, r: replace(d, bath_c=r.uniform(3.0, 8.0)),
    "warm_bath": lambda d, r: replace(d, bath_c=r.uniform(36.0, 42.0)),
    "short_rinse": lambda d, r: replace(d, wash_s=r.uniform(8.0, 25.0)),
    "cooked_too_little": lambda d, r: replace(d, core_c=r.uniform(56.0, 63.0)),
    "cooked_too_far": lambda d, r: replace(d, core_c=r.uniform(94.0, 98.0)),
    "held_too_long": lambda d, r: replace(d, pass_s=r.uniform(1500.0, 2100.0)),
}
"""By the id of the cause that an explanation should name."""
BY_PIECE: dict[str, tuple[Wrong, str]] = {
    "uneven coat": (_uneven, "uneven_coat"),
    "one late piece": (_late, "long_dwell"),
    "two heavy pieces": (_some_heavy, "uneven_pieces"),
    "cold side of the bath": (_bath_side, "cold_side_of_bath"),
    "cold corner of the oven": (_oven_corner, "cold_place_in_pan"),
    "cold corner with a probe": (_probed_corner, "cold_place_in_pan"),
}
"""What goes wrong with some pieces only, and the cause that should be named."""

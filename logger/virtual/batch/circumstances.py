"""What differs from batch to batch: amounts, temperatures, times, habits, and root causes.

A seed draws an ordinary batch in which all goes well; a root cause then changes the one thing it is
about. Pure and seeded. ``scenario`` turns the result into a script of acts, ``physics`` into heat
and calcium; the truth carries it.
"""

from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from logger.virtual.batch.causes import check_causes

PIECES = 6
DIAMETER_MM = 26.0
LENGTH_MM = 130.0
BATH_WATER_G = 1490.0
SALT_G = 10.0
ALGINATE_SHARE = 0.015
ANHYDROUS_G_MOL = 110.984  # CaCl2, IUPAC standard atomic weights
HEXAHYDRATE_G_MOL = 219.076  # CaCl2 6 H2O, the same
FAT_G = 180.0
WATER_PHASE_G = 341.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Circumstances:
    """One batch as it will go.

    Attributes
    ----------
    fat : str
        Which fat: ``"cocoa_butter"`` or ``"coconut_oil"``.
    fat_set_c, water_set_c : float
        Temperatures at which the two phases really are held before the pour [degC].
    pour_g_s : float
        Mean rate of the pour [g/s].
    unevenness : float
        Relative standard deviation of that rate.
    piece_g : tuple of float
        Bare mass of each piece [g].
    coat_mm : tuple of float
        Thickness of each coat [mm].
    dwell_s : tuple of float
        Planned time of each piece in the bath [s].
    calcium_share : float
        Calcium in the bath over that of the sheet's fresh bath.
    hydrate_s, chill_s, dry_s, cook_s, hold_s : float
        Lengths of those stages [s].
    drag_g : tuple of float
        Bath carried out by each piece [g].
    beside_k : tuple of float
        How much warmer than the bath as a whole it is beside each piece [K].
    """

    seed: int
    causes: tuple[str, ...]
    short: bool
    room_c: float
    fat: str
    fat_g: float
    water_g: float
    fat_set_c: float
    water_set_c: float
    heat_s: float
    pour_g_s: float
    unevenness: float
    hydrate_s: float
    chill_s: float
    piece_g: tuple[float, ...]
    coat_mm: tuple[float, ...]
    dwell_s: tuple[float, ...]
    drag_g: tuple[float, ...]
    bath_c: float
    bath_g: float
    calcium_share: float
    dry_s: float
    cook_s: float
    hold_s: float
    probes_swapped: bool = False
    calcium_weighed: bool = True
    beside_k: tuple[float, ...] = (0.0,) * PIECES
    new_lots: tuple[str, ...] = ()
    """Ingredients that come from another lot than the sheet's usual one."""


def draw(seed: int, causes: tuple[str, ...] = (), *, short: bool = False) -> Circumstances:
    """Draw a batch.

    Parameters
    ----------
    seed : int
        The same seed gives the same batch.
    causes : tuple of str
        Root causes to inject, by name.
    short : bool
        A batch of about 12 minutes: heat, emulsify, set.

    Raises
    ------
    InputError
        If a cause is unknown or the short batch cannot show it.
    """
    names = check_causes(causes, short=short)
    rng = np.random.default_rng([seed, 1])
    batch = _ordinary(rng, seed, short)
    for name in names:
        # Its own stream, so that the rest of the batch stays as the seed drew it.
        own = np.random.default_rng([seed, 2, *name.encode()])
        batch = replace(batch, **_change(name, batch, own))
    return replace(batch, causes=names)


def _ordinary(rng: np.random.Generator, seed: int, short: bool) -> Circumstances:
    """Draw a batch in which all goes well."""
    masses = np.linspace(57.0, 77.0, PIECES) + rng.normal(0.0, 0.8, PIECES)
    coat_mm, dwell_s = (0.45, 183.0) if short else (0.80, 505.0)
    optional = ("barley malt binder", "sodium alginate", "cooked barley", "salt")
    return Circumstances(
        seed=seed,
        causes=(),
        short=short,
        room_c=float(rng.uniform(20.0, 24.0)),
        fat="cocoa_butter",
        fat_g=FAT_G + float(rng.normal(0.0, 0.4)),
        water_g=WATER_PHASE_G + float(rng.normal(0.0, 0.6)),
        fat_set_c=float(rng.uniform(51.5, 54.5)),
        water_set_c=float(rng.uniform(48.5, 50.5)),
        heat_s=float(rng.uniform(225.0, 240.0) if short else rng.uniform(480.0, 530.0)),
        pour_g_s=float(rng.uniform(85.0, 115.0)) / 60.0,
        unevenness=float(rng.uniform(0.06, 0.15)),
        hydrate_s=float(rng.uniform(400.0, 440.0)),
        chill_s=float(rng.uniform(440.0, 480.0)),
        piece_g=tuple(np.round(rng.permutation(masses), 2).tolist()),
        coat_mm=tuple((coat_mm * rng.normal(1.0, 0.035, PIECES)).tolist()),
        dwell_s=tuple((dwell_s + rng.uniform(-0.05, 0.05, PIECES) * dwell_s).tolist()),
        drag_g=tuple(rng.uniform(0.7, 1.6, PIECES).tolist()),
        bath_c=float(rng.uniform(19.0, 22.0)),
        bath_g=BATH_WATER_G + SALT_G + float(rng.normal(0.0, 1.0)),
        calcium_share=float(rng.uniform(0.98, 1.02)),
        dry_s=float(rng.uniform(400.0, 440.0)),
        cook_s=float(rng.uniform(485.0, 515.0)),
        hold_s=float(rng.uniform(200.0, 230.0)),
        new_lots=tuple(name for name in optional if rng.random() < 0.15),
    )


def _change(name: str, batch: Circumstances, rng: np.random.Generator) -> dict[str, Any]:
    """Return what a root cause changes, as field values."""
    low, high = rng.uniform(0.0, 1.0, 2)
    spread = rng.permutation(np.linspace(-1.0, 1.0, PIECES))
    piece = int(rng.integers(PIECES - 1))
    changes: dict[str, dict[str, Any]] = {
        "fat_too_cool": {"fat_set_c": 35.0 + 1.0 * low},
        "water_too_cold": {"water_set_c": 25.5 + 2.5 * low},
        "pour_too_fast": {"pour_g_s": (330.0 + 150.0 * low) / 60.0},
        "probe_swapped": {
            "probes_swapped": True,
            "fat_set_c": 47.5 + 1.5 * low,
            "water_set_c": 52.5 + 1.5 * high,
        },
        "hydrate_mistaken": {
            "calcium_share": batch.calcium_share * ANHYDROUS_G_MOL / HEXAHYDRATE_G_MOL,
            "new_lots": (*batch.new_lots, "calcium chloride"),
        },
        "bath_exhausted": {
            "calcium_share": 0.15 + 0.12 * low,
            "calcium_weighed": False,
            "bath_g": batch.bath_g - 25.0 - 50.0 * high,
        },
        "thick_coat": {"coat_mm": tuple(c * (1.9 + 0.25 * low) for c in batch.coat_mm)},
        "short_dwell": {"dwell_s": tuple(d * (0.40 + 0.1 * low) for d in batch.dwell_s)},
        "long_dwell": {"dwell_s": tuple(d * (1.75 + 0.25 * low) for d in batch.dwell_s)},
        "cold_bath": {"bath_c": 1.5 + 1.5 * low},
        "another_fat": {"fat": "coconut_oil"},
        "too_much_fat": {"fat_g": batch.fat_g * (1.42 + 0.15 * low)},
        "short_hydration": {"hydrate_s": 60.0 + 60.0 * low},
        "short_chill": {"chill_s": 100.0 + 60.0 * low},
        "uneven_coat": {
            "coat_mm": tuple(
                c * (1.0 + 0.62 * s) for c, s in zip(batch.coat_mm, spread, strict=True)
            )
        },
        "short_drying": {"dry_s": 60.0 + 45.0 * low},
        "one_late_piece": {
            "dwell_s": _of_some(batch.dwell_s, (piece,), lambda d: d * (1.75 + 0.25 * low))
        },
        "cold_side_of_bath": {
            "beside_k": _of_some(
                batch.beside_k, (piece, piece + 1), lambda k: k + 1.5 + 1.5 * low - batch.bath_c
            )
        },
    }
    return changes[name]


def _of_some(
    values: tuple[float, ...], pieces: Collection[int], changed: Callable[[float], float]
) -> tuple[float, ...]:
    """Return one number of each piece, changed for some, counted from 0."""
    return tuple(changed(v) if k in pieces else v for k, v in enumerate(values))

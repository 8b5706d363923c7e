"""The bath scale of a batch: pieces in and out as the script has them, read off."""

import numpy as np

from logger.virtual.loads import Load, Scale, Weighings, weigh
from logger.virtual.physics import World
from logger.virtual.scenario import TRAY_G
from logger.virtual.traces import Array

BATH_SCALE = Scale(step_g=0.1, noise_g=0.08)


def bath_readings(world: World, times_s: Array, rng: np.random.Generator) -> Weighings:
    """Read the bath scale of a finished batch."""
    load = Load()
    load.put(world.script.bath_from_s - 1.0, TRAY_G + world.batch.bath_g, 0.5)
    for number, piece in world.facts.pieces.items():
        load.put(piece["in_s"], piece["mass_in_g"], 1.0 + 0.01 * number)
        load.put(piece["out_s"], -piece["mass_out_g"], 1.0)
    return weigh(BATH_SCALE, load, times_s, rng)

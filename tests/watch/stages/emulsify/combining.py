"""180 g of fat poured into 330 g of stock, and how the emulsion cools then."""

from functools import cache

import numpy as np

from logger.virtual.bodies.probe import Probe
from logger.virtual.bodies.vessels import SettingFat, Vessel, VesselSpec


def poured_g(t_s):
    """180 g at 90 g/min from 30 s on, thus until 150 s."""
    return float(np.clip((t_s - 30.0) * 1.5, 0.0, 180.0))


@cache
def emulsion_curve(sets):
    """Return an hour of emulsion from 46 degC in 14 degC [degC, 1 Hz], and its true onset [s].

    The fat sets at 24 degC or, where it does not, has no onset.
    """
    fat = SettingFat(
        nucleates_at_c=24.0 if sets else -50.0, melts_at_c=31.0, sets_share=0.6,
        latent_j_per_g=157.0,
    )  # fmt: skip
    spec = VesselSpec(ambient_c=14.0, loss_w_per_k=1.4, loss_exponent=1.15, fat=fat)
    vessel, probe = Vessel(spec, temp_c=46.0, fat_g=180.0, water_g=330.0), Probe(seed=4)
    shown = []
    for _ in range(3600):
        vessel.step(1.0)
        shown.append(probe.read(vessel.temp_c, 1.0))
    return tuple(shown), vessel.nucleated_s

"""A virtual roll: its size and surface, its coat, and the heat that wanders to its core.

A cylinder with round ends; heavier ones are larger in the same shape. The heat is a finite-volume
model of a long cylinder. Pure. The piece never freezes in these batches.
"""

import math

from logger.virtual.batch.circumstances import DIAMETER_MM, LENGTH_MM

ROLL_G_CM3 = 1.04
COAT_G_CM3 = 1.01
RINGS = 8
CONDUCTIVITY_W_M_K = 0.45
HEAT_J_M3_K = 3.5e6
_LONGEST_STEP_S = 2.0


def _volume_cm3(radius_mm: float, length_mm: float) -> float:
    shaft_mm = length_mm - 2.0 * radius_mm
    return 1e-3 * math.pi * radius_mm**2 * (shaft_mm + 4.0 / 3.0 * radius_mm)


def _size_mm(bare_g: float) -> tuple[float, float]:
    """Radius and overall length of a roll of that mass [mm]."""
    usual_g = ROLL_G_CM3 * _volume_cm3(DIAMETER_MM / 2.0, LENGTH_MM)
    scale = (bare_g / usual_g) ** (1.0 / 3.0)
    return scale * DIAMETER_MM / 2.0, scale * LENGTH_MM


def radius_mm(bare_g: float) -> float:
    """Radius of a roll [mm]."""
    return _size_mm(bare_g)[0]


def surface_cm2(bare_g: float) -> float:
    """Surface of a roll [cm2]."""
    radius, length = _size_mm(bare_g)
    return 1e-2 * 2.0 * math.pi * radius * length


def coat_g(bare_g: float, thickness_mm: float) -> float:
    """Mass of an even coat on a roll [g]."""
    radius, length = _size_mm(bare_g)
    outer = _volume_cm3(radius + thickness_mm, length + 2.0 * thickness_mm)
    return COAT_G_CM3 * (outer - _volume_cm3(radius, length))


class RollCore:
    """A roll with a probe in its middle.

    Parameters
    ----------
    radius_mm : float
        Radius [mm].
    temp_c : float
        Even temperature to begin with [degC].
    """

    def __init__(self, radius_mm: float, temp_c: float) -> None:
        self._width_m = 1e-3 * radius_mm / RINGS
        self.rings_c = [temp_c] * RINGS

    @property
    def core_c(self) -> float:
        """Temperature in the middle [degC]."""
        return self.rings_c[0]

    @property
    def mean_c(self) -> float:
        """Temperature over the cross-section [degC]."""
        weights = [2 * ring + 1 for ring in range(RINGS)]
        return sum(w * t for w, t in zip(weights, self.rings_c, strict=True)) / sum(weights)

    def fill(self, temp_c: float) -> None:
        """Make a new roll of one temperature throughout [degC]."""
        self.rings_c = [temp_c] * RINGS

    def step(self, dt_s: float, around_c: float, h_w_m2_k: float) -> float:
        """Let time pass in surroundings; give the heat taken up per surface [J/m2].

        Parameters
        ----------
        dt_s : float
            How long [s].
        around_c : float
            Temperature of the surroundings [degC].
        h_w_m2_k : float
            Heat transfer at the surface [W/(m2 K)].
        """
        count = max(1, int(-(-dt_s // _LONGEST_STEP_S)))
        part_s = dt_s / count
        width = self._width_m
        between = CONDUCTIVITY_W_M_K / width
        outer = 1.0 / (1.0 / h_w_m2_k + width / (2.0 * CONDUCTIVITY_W_M_K))
        taken = 0.0
        for _ in range(count):
            temps = self.rings_c
            # Heat through the outer face of each ring, per length and 2 pi [W/m].
            flows = [
                between * width * (ring + 1) * (temps[ring + 1] - temps[ring])
                for ring in range(RINGS - 1)
            ]
            flows.append(outer * width * RINGS * (around_c - temps[-1]))
            taken += part_s * outer * (around_c - temps[-1])
            inner = 0.0
            fresh = []
            for ring, flow in enumerate(flows):
                volume = width * width * (ring + 0.5)
                fresh.append(temps[ring] + part_s * (flow - inner) / (volume * HEAT_J_M3_K))
                inner = flow
            self.rings_c = fresh
        return taken

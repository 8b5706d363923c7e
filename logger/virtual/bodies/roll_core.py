"""Heat that wanders through a roll, ring by ring: what the core probe feels.

A finite-volume model of a long cylinder; pure. The piece never freezes in these batches.
"""

RINGS = 8
CONDUCTIVITY_W_M_K = 0.45
HEAT_J_M3_K = 3.5e6
_LONGEST_STEP_S = 2.0


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

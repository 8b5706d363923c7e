"""What the air takes while one phase is poured into the other.

Pure functions of numbers; used by logger.batch.meeting for the prediction while warming, the plan
and the review alike.
"""

import math

from logger.model.errors import OutOfRangeError

LOSS_W_K, U_LOSS_W_K, LOSS_AT_G = 1.0, 0.4, 500.0
"""Heat an open bowl of half a kilogram loses while it is poured into, evaporation counted in, per
kelvin above the air [W/K], its standard uncertainty [W/K], and that mass [g]: typical, unverified;
goes with the surface."""


def pouring_loss_j(
    poured_g: float, rate_g_min: float, whole_g: float, excess_k: float, capacity_j_k: float
) -> tuple[float, float]:
    """Heat that goes to the air while one phase is poured into the other.

    Parameters
    ----------
    poured_g : float
        Mass that is poured [g], 0 or more.
    rate_g_min : float
        How fast [g/min], above 0.
    whole_g : float
        Both phases together [g], above 0.
    excess_k : float
        What loses it, above the air [K]; below 0 the air warms it.
    capacity_j_k : float
        Heat capacity of what loses it [J/K], above 0: however long it is poured, it comes no
        further than to the air.

    Returns
    -------
    tuple of float
        Heat [J], below 0 where the air warms it, and its standard uncertainty [J].

    Raises
    ------
    OutOfRangeError
        If a mass or the rate is out of its range.

    Notes
    -----
    The loss per kelvin is proportional to the surface, mass to the power 2/3 at one shape; Newton's
    law of cooling over the time of the pour.
    """
    if not poured_g >= 0.0:
        raise OutOfRangeError("mass that is poured [g]", poured_g, "0 or more")
    for name, value in (
        ("pour rate [g/min]", rate_g_min),
        ("mass of both phases [g]", whole_g),
        ("heat capacity [J/K]", capacity_j_k),
    ):
        if not value > 0.0:
            raise OutOfRangeError(name, value, "above 0")
    lasts_s, size = 60.0 * poured_g / rate_g_min, (whole_g / LOSS_AT_G) ** (2.0 / 3.0)
    cooled = LOSS_W_K * size * lasts_s / capacity_j_k
    u_loss_j = U_LOSS_W_K * size * lasts_s * abs(excess_k) * math.exp(-cooled)
    return -capacity_j_k * excess_k * math.expm1(-cooled), u_loss_j

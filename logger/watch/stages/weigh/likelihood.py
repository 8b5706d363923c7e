"""Log-priors of what people do at a scale, and log-likelihoods of the masses that come of it.

Pure functions of numbers; used by `hypotheses` and `assignment`. The priors are common practice
without a source and rough on purpose: the masses decide, and what they cannot decide is asked. All
weights are natural logarithms [1].
"""

import math

LOG_ROOT_2PI = 0.5 * math.log(2 * math.pi)
IMPOSSIBLE = -60.0
"""Log-weight of what the operator has ruled out [1]."""

AIMED_SHARE, NEAR_SHARE, FAR_SHARE, ODD_SHARE = 0.83, 0.10, 0.06, 0.01
"""Shares of ingredients weighed in as wanted, roughly so, short or over by about half, anyhow."""
NEAR_LOG_SD, FAR_LOG_SD = 0.12, 0.5
"""Standard deviation of the logarithm of mass over target of the second and third [1]."""
ODD_LEAST, ODD_MOST = 0.02, 5.0
"""Masses weighed in anyhow are log-uniform between such shares of the target [1]."""
LOG_BEYOND = -25.0
"""What lies beyond [1]."""
AIMED_STEPS, AIMED_PERCENT = 1.5, 0.7
"""Standard deviation of a mass weighed in as wanted: in display steps, and in percent."""

LOG_PRIOR_ADD = {"vessel": -0.11, "food": -0.2, "unknown": -0.7, "empty": -1.4}
"""Log-prior that a rise is an ingredient, by what lies on the scale [1]; here and below."""
LOG_PRIOR_VESSEL = {"vessel": -5.5, "food": -4.0, "unknown": -0.8, "empty": -0.35}
LOG_PRIOR_OFF = -0.6
LOG_PRIOR_LOST_COUNT = -5.0
"""The scale is empty though its display is not where it was thought to be."""
LOG_PRIOR_SPOONED_OUT = -3.0
LOG_PRIOR_FROM_JAR_FRESH, LOG_PRIOR_FROM_JAR_AGAIN, LOG_PRIOR_FROM_JAR = -1.6, -0.3, -6.0
LOG_PRIOR_BACK_INTO_JAR = -3.0
LOG_PRIOR_TARE, LOG_PRIOR_TARE_EMPTY = -1.6, -2.5
LOG_PRIOR_NOTHING = -7.0
LOG_PRIOR_FOREIGN_INSIDE, LOG_PRIOR_FOREIGN_OUTSIDE = -6.0, -2.5
LOG_PRIOR_IN_A_GAP = -1.5
LOG_PRIOR_TOUCH, LOG_PRIOR_LIFTED = -3.0, -3.0
LOG_PENALTY_TOUCH_S = -0.15
"""For each second that a touch lasts [1/s]."""
LOG_INSTANT, LOG_NOT_INSTANT = math.log(0.9), math.log(0.04)
LOG_POURED_INSTANT, LOG_POURED = math.log(0.12), math.log(0.88)
LOG_SIGNAL_WITHIN, LOG_NO_SIGNAL_WITHIN = math.log(0.05), math.log(0.95)
"""A mark or a tare between two portions of one ingredient, and none."""
LOG_SIGNAL_AFTER_VESSEL, LOG_NO_SIGNAL_AFTER_VESSEL = math.log(0.75), math.log(0.25)
LOG_ANOTHER, LOG_MORE = math.log(0.5), math.log(0.5)
"""The next ingredient, or more of the same."""
LOG_NEVER_WEIGHED = -3.2
"""For each ingredient that was never weighed in, once the weighing is over."""
SIGNALS_PRIOR, ORDER_PRIOR = (1.2, 0.8), (4.0, 1.0)
"""Counts of a beta prior: switches with a mark or tare and without; in turn and not."""
AGAIN_SHARE = 0.15
"""Share of a later portion among what is not in turn [1]."""

VESSEL_G, VESSEL_LOG_SD = 220.0, 0.9
"""Median of a vessel's mass [g] and standard deviation of its logarithm [1]."""
KNOWN_VESSEL_SHARE, U_VESSEL_G = 0.4, 1.5
"""Share of vessels of a mass that the sheet or the scale knows, and how well it does [g]."""
FOREIGN_LOG_RANGE = math.log(30_000.0)
"""A load that is nothing of the batch is log-uniform over so much [1]."""
TOP_UP_SHARE, TOP_UP_LOG_RANGE = 0.5, 6.9
"""Share of portions that are log-uniform over so much, the others uniform [1]."""


def normal(off: float, sd: float) -> float:
    """Return the log-density [1, of a density in 1/unit of `off`] of a normal deviation.

    Parameters
    ----------
    off : float
        Deviation [any unit].
    sd : float
        Standard deviation, above 0 [same unit].
    """
    z = off / sd
    return -0.5 * z * z - math.log(sd) - LOG_ROOT_2PI


def total_log_density(mass_g: float, target_g: float, aimed_sd_g: float) -> float:
    """Return the log-density [1, of a density in 1/g] of what was weighed in of an ingredient.

    Parameters
    ----------
    mass_g, target_g : float
        In all, and as the sheet wants it [g].
    aimed_sd_g : float
        Standard deviation of a careful weighing [g].

    Notes
    -----
    A mixture: as wanted, roughly so, short or over by about half, anyhow. An ingredient that is far
    off stays possible, so that the order, the tares and the other masses can win.
    """
    if mass_g <= 0.0:
        return IMPOSSIBLE
    ratio = math.log(mass_g / target_g)
    density = AIMED_SHARE * math.exp(normal(mass_g - target_g, aimed_sd_g))
    density += NEAR_SHARE * math.exp(normal(ratio, NEAR_LOG_SD)) / mass_g
    density += FAR_SHARE * math.exp(normal(ratio, FAR_LOG_SD)) / mass_g
    if ODD_LEAST <= mass_g / target_g <= ODD_MOST:
        density += ODD_SHARE / (math.log(ODD_MOST / ODD_LEAST) * mass_g)
    return math.log(density + math.exp(LOG_BEYOND) / mass_g)


def open_log_density(mass_g: float, target_g: float, aimed_sd_g: float) -> float:
    """Return the same of an ingredient of which more may follow.

    Parameters
    ----------
    mass_g, target_g : float
        So far, and as the sheet wants it [g].
    aimed_sd_g : float
        Standard deviation of a careful weighing [g].
    """
    closed = total_log_density(mass_g, target_g, aimed_sd_g)
    if not 0.0 < mass_g < target_g:
        return closed
    return math.log(0.5 * math.exp(closed) + 0.5 / target_g)


def portion_log_density(mass_g: float, target_g: float) -> float:
    """Return the log-density [1, of a density in 1/g] of a further portion of an ingredient.

    Parameters
    ----------
    mass_g : float
        The portion [g], above 0.
    target_g : float
        What the sheet wants of it in all [g].
    """
    scale_free = TOP_UP_SHARE / (TOP_UP_LOG_RANGE * mass_g)
    return math.log(scale_free + (1.0 - TOP_UP_SHARE) / target_g)


def vessel_log_density(mass_g: float, known_g: tuple[float, ...]) -> float:
    """Return the log-density [1, of a density in 1/g] of the mass of a vessel.

    Parameters
    ----------
    mass_g : float
        By the scale [g].
    known_g : tuple of float
        Vessels that the sheet names, and the last one on the scale [g].
    """
    if mass_g <= 0.0:
        return IMPOSSIBLE
    ratio = math.log(mass_g / VESSEL_G)
    density = math.exp(normal(ratio, VESSEL_LOG_SD)) / mass_g
    for each_g in known_g:
        near = math.exp(normal(mass_g - each_g, U_VESSEL_G))
        density += KNOWN_VESSEL_SHARE * near / len(known_g)
    return math.log(density + 1e-30)


def foreign_log_density(mass_g: float) -> float:
    """Return the log-density [1, of a density in 1/g] of a load [g] that is foreign."""
    return -math.log(FOREIGN_LOG_RANGE * max(abs(mass_g), 0.05))

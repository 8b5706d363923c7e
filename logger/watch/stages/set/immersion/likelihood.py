"""Log-priors of what people do at a bath, and log-likelihoods of what the scale then shows.

Pure functions of numbers; used by `weights`, `hidden`, `hypotheses` and `trellis`. The priors are
rough on purpose: the masses decide. All weights are natural logarithms [1].
"""

import math
from dataclasses import dataclass, replace

LOG_ROOT_2PI = 0.5 * math.log(2 * math.pi)

LOG_PRIOR_IN = -0.9
"""Log-prior of each kind of event among all [1], here and below: rough, no source."""
LOG_PRIOR_OUT = -0.9
LOG_PRIOR_TOUCH = -2.0
LOG_PRIOR_REDIP = -3.5
LOG_PRIOR_OTHER = -2.5
LOG_PRIOR_TWO_AT_ONCE = -5.0
LOG_PRIOR_ONE_MORE = -1.0
LOG_PRIOR_TOGETHER_AGAIN = -2.5
LOG_PRIOR_IN_AT_START = -5.0
LOG_PRIOR_TARE = -6.0
LOG_PRIOR_WEIGHED_WRONGLY = -4.0
LOG_PENALTY_SKIPPED = -1.2
"""For each segment that is skipped [1]."""
LOG_PENALTY_TOUCH_S = -0.25
"""For each second that a touch lasts [1/s]."""
TOUCH_RANGE_G = 150.0
"""A hand pushes with up to so much [g]."""
LONG_LIFT_S, LOG_PENALTY_LIFT_S = 5.0, -0.4
"""A piece is held above the bath so long [s]; for each second more [1/s]."""
LOG_PENALTY_LEFT_IN = -2.5
"""For each piece that is still in the bath once the readings have ended [1]."""
LOG_PENALTY_UNSEEN = -3.0
"""For each piece that there is and that was never seen, then [1]."""
IMPOSSIBLE = -1e9
"""Log-weight of what cannot be [1]."""

SHORTEST_DWELL_S = 10.0
OTHER_RANGE_G = 800.0
"""A change that no piece explains is uniform over this range [g]."""
QUICK_RISE_S, QUICK_SPAN_S = 2.0, 2.6
"""Usual rise time and span of an edge that a piece makes, at most [s]; beyond them the likelihood
falls."""
SLOW_AT_MOST, SPAN_AT_MOST = 3.2, 1.5
"""What a piece loses by a slow rise, and by a long span, at most [1]: some lower it over 8 s."""
POURED_RISE_S = 1.2
"""An edge that rises faster than this is hardly poured [s]."""
TAIL_SHARE, TAIL_WIDTH = 0.03, 5
LOG_TAIL = math.log(TAIL_SHARE / TAIL_WIDTH)
"""Weight and relative width of the wide tail of a measured change, and its log-density factor [1].
"""
ODD_DWELL_SHARE = 0.1
"""Share of dwells that are early or forgotten, and so uniform."""
ODD_DWELL_RANGE = 3
"""A uniform dwell lies within so many usual dwells."""
ODD_MASS_SHARE, HEAVIEST_G = 0.02, 400
"""Share of pieces of any mass, uniform up to this one [g]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelParameters:
    """Parameters of the model: defaults, replaced by what the run itself shows.

    Attributes
    ----------
    drag_g, drag_sd_g : float
        Liquid that leaves with a piece: mean and standard deviation [g].
    piece_g, piece_log_sd : float
        Median mass of a piece [g] and standard deviation of its logarithm [1].
    buoyancy : float
        Step of a dipped piece over its registered mass [1]: 1 when let go, less when hung.
    dip_sd_g : float
        Standard deviation of the step about that, noise apart [g].
    in_order : float
        Share of dips that take the lowest number left [1]; the rest is uniform.
    dwell_s, dwell_sd_s : float or None
        Usual dwell and its standard deviation [s]; None leaves the dwell out of the weights.
    slower_s : float
        How much longer than `QUICK_RISE_S` the pieces take that go in [s].
    """

    drag_g: float = 1.5
    drag_sd_g: float = 0.7
    piece_g: float = 75.0
    piece_log_sd: float = 0.6
    buoyancy: float = 1.0
    dip_sd_g: float = 0.25
    in_order: float = 0.6
    dwell_s: float | None = None
    dwell_sd_s: float = 1.0
    slower_s: float = 0.0

    def without_dwell(self) -> "ModelParameters":
        """Return the same parameters without the usual dwell."""
        return replace(self, dwell_s=None)


def change_log_likelihood(off_g: float, sd_g: float) -> float:
    """Return the log-density [1, of a density in 1/g] of a change of level.

    Parameters
    ----------
    off_g : float
        Measured less expected change [g].
    sd_g : float
        Standard deviation of that, above 0 [g].

    Notes
    -----
    A normal density to which a wide one adds its tail, so that a slip of a few grams is unlikely
    and not impossible.
    """
    z = off_g / sd_g
    core = -0.5 * z * z
    tail = LOG_TAIL - 0.5 * (z / TAIL_WIDTH) ** 2
    high = core if core > tail else tail
    return high + math.log1p(math.exp(-abs(core - tail))) - math.log(sd_g) - LOG_ROOT_2PI


def dwell_log_likelihood_ratio(dwell_s: float, parameters: ModelParameters) -> float:
    """Return the log-likelihood ratio [1] of a dwell against a uniform one.

    Parameters
    ----------
    dwell_s : float
        Dwell [s].
    parameters : ModelParameters
        Usual dwell and its standard deviation [s]; without one the ratio is 0.

    Notes
    -----
    Against a uniform dwell, so that the number of pieces that came out does not matter. 10 % of the
    weight stays uniform: the prior never rules out an early or forgotten piece, and the masses can
    win.
    """
    if parameters.dwell_s is None:
        return 0.0
    odd = math.log(ODD_DWELL_SHARE / (ODD_DWELL_RANGE * parameters.dwell_s))
    z = (dwell_s - parameters.dwell_s) / parameters.dwell_sd_s
    usual = math.log(1 - ODD_DWELL_SHARE) - 0.5 * z * z
    usual = usual - math.log(parameters.dwell_sd_s) - LOG_ROOT_2PI
    high = max(odd, usual)
    uniform = math.log(1 / (ODD_DWELL_RANGE * parameters.dwell_s))
    return high + math.log1p(math.exp(-abs(odd - usual))) - uniform


def piece_mass_log_likelihood(mass_g: float, parameters: ModelParameters) -> float:
    """Return the log-density [1, of a density in 1/g] of the mass of a piece nobody registered.

    Parameters
    ----------
    mass_g : float
        Mass by the scale [g]; 0 or less is impossible.
    parameters : ModelParameters
        Median mass [g] and scatter of the log-normal distribution.
    """
    if mass_g <= 0:
        return IMPOSSIBLE
    z = (math.log(mass_g) - math.log(parameters.piece_g)) / parameters.piece_log_sd
    core = -0.5 * z * z - math.log(parameters.piece_log_sd) - LOG_ROOT_2PI - math.log(mass_g)
    tail = math.log(ODD_MASS_SHARE / HEAVIEST_G)
    return max(core, tail) if mass_g < HEAVIEST_G else core


def rise_log_likelihood(
    rise_s: float, span_s: float, *, poured: bool, slower_s: float = 0.0
) -> float:
    """Return the log-likelihood [1] of how long an edge took, up to a constant.

    Parameters
    ----------
    rise_s, span_s : float
        Rise time and span of the edge [s].
    poured : bool
        Whether something was poured in or ladled out, which takes its time; pieces go in quickly.
    slower_s : float
        How much longer than usual the pieces of this run take [s].
    """
    if poured:
        return -1.5 if rise_s < POURED_RISE_S and span_s < QUICK_SPAN_S else 0.0
    rise_s, span_s = rise_s - slower_s, span_s - slower_s
    slow = min(SLOW_AT_MOST, 0.8 * max(0.0, rise_s - QUICK_RISE_S))
    return -slow - min(SPAN_AT_MOST, 0.5 * max(0.0, span_s - QUICK_SPAN_S))

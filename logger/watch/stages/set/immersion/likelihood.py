"""How likely the things are that people do at a bath, and how likely a step is if they did it.

Logarithms of probabilities; used by `lattice`. Rates are rough on purpose: the masses decide.
"""

import math
from dataclasses import dataclass, replace

LOG_ROOT_2PI = 0.5 * math.log(2 * math.pi)

# Logarithm of the share of each deed among all; rough, no source.
IN = -0.9
OUT = -0.9
TOUCH = -2.0
REDIP = -3.5
OTHER = -2.5
TWO_AT_ONCE = -5.0
TWO_IN_A_GAP = -2.5
WAS_IN_AT_START = -5.0
TARE = -6.0
PER_SKIPPED = -1.2
BEYOND_COUNT = -5.0
WEIGHED_WRONGLY = -4.0
PER_TOUCHED_SECOND = -0.25
STILL_IN_AT_END = -2.5

SHORTEST_DWELL_S = 10.0
OTHER_RANGE_G = 800.0
QUICK_RISE_S = 2.0
QUICK_SPAN_S = 2.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Knowledge:
    """What is known or was learned of this run.

    Attributes
    ----------
    drag_g, drag_sd_g : float
        Liquid that leaves with a piece: mean and scatter [g].
    piece_g, piece_sd : float
        Median of a piece's mass [g] and scatter of its logarithm.
    buoyant, dip_sd_g : float
        Step of a dipped piece over its registered mass, 1 when released, a little less when hung;
        and the scatter about that, noise apart [g].
    in_order : float
        Share of dips that take the lowest number left; the rest is even.
    dwell_s, dwell_sd_s : float or None
        Usual dwell and its scatter [s]; None leaves the dwell out of the story.
    """

    drag_g: float = 1.5
    drag_sd_g: float = 0.7
    piece_g: float = 75.0
    piece_sd: float = 0.6
    buoyant: float = 1.0
    dip_sd_g: float = 0.25
    in_order: float = 0.6
    dwell_s: float | None = None
    dwell_sd_s: float = 1.0

    def without_dwell(self) -> "Knowledge":
        """The same, blind to dwells."""
        return replace(self, dwell_s=None)


def normal(off: float, sd: float) -> float:
    """Logarithm of a normal density with a few percent of wide tail."""
    z = off / sd
    core = -0.5 * z * z
    tail = math.log(0.03 / 5) - 0.5 * (z / 5) ** 2
    high = max(core, tail)
    return high + math.log1p(math.exp(-abs(core - tail))) - math.log(sd) - LOG_ROOT_2PI


def of_dwell(dwell_s: float, known: Knowledge) -> float:
    """Chance of a dwell; an early or forgotten piece keeps a tenth of it: masses can win."""
    if known.dwell_s is None:
        return 0.0
    odd = math.log(0.1 / (3 * known.dwell_s))
    z = (dwell_s - known.dwell_s) / known.dwell_sd_s
    usual = math.log(0.9) - 0.5 * z * z - math.log(known.dwell_sd_s) - LOG_ROOT_2PI
    high = max(odd, usual)
    # Against an even chance over three usual dwells, so that the number of outs does not matter.
    even = math.log(1 / (3 * known.dwell_s))
    return high + math.log1p(math.exp(-abs(odd - usual))) - even


def of_piece_mass(mass_g: float, known: Knowledge) -> float:
    """Chance that a piece nobody registered weighs this much."""
    if mass_g <= 0:
        return -1e9
    z = (math.log(mass_g) - math.log(known.piece_g)) / known.piece_sd
    core = -0.5 * z * z - math.log(known.piece_sd) - LOG_ROOT_2PI - math.log(mass_g)
    tail = math.log(0.02 / 400)
    return max(core, tail) if mass_g < 400 else core


def of_rise(rise_s: float, span_s: float, *, poured: bool) -> float:
    """Chance of the length of an edge: pieces go in quickly, jugs and ladles take their time."""
    if poured:
        return -1.5 if rise_s < 1.2 and span_s < QUICK_SPAN_S else 0.0
    slow = min(14.0, 8.0 * max(0.0, rise_s - QUICK_RISE_S))
    return -slow - min(5.0, 2.0 * max(0.0, span_s - QUICK_SPAN_S))

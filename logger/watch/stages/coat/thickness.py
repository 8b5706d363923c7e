"""How thick a coat is on its piece, what a coat may weigh, and the dwell it will need in the bath.

Pure; used by the watcher of coating. Exact geometry on the sheet's body, scaled by the mass of the
piece; the needed dwell is that of the bath that awaits the coat, before its stage begins.
"""

import math

from logger.batch.amounts import CoatAmounts
from logger.model.errors import OutOfRangeError
from logger.model.kinds.coat import CoatStage
from logger.model.kinds.set import SetStage
from logger.science.gel.coating import Body, coat_mass_g, coat_thickness_mm, u_coat_thickness_mm
from logger.science.gel.dwell import NeededDwell
from logger.watch.engine.contract import Context, seconds
from logger.watch.scale import pieces
from logger.watch.scale.loads import Range
from logger.watch.stages.set.skin import skin_clock

U_SHAPE = 0.03
"""Standard uncertainty of a piece's surface, as a share: the sheet's shape is not measured on each
piece; from memory."""
USUAL_PICKUP_G = (1.0, 15.0)
"""What a coat may weigh where sheet and shape say nothing [g]: from memory."""
USUAL_COAT_KG_M3 = 1010.0
"""Density of a coat where the sheet does not say how much alginate is in it: from memory."""
USUAL_BATH_C = 20.0
"""Bath temperature to reckon with where neither probe nor sheet says one [degC]."""


class Thickness:
    """Geometry of the coats of one batch.

    Parameters
    ----------
    body : Body or None
        Bare body of the sheet.
    amounts : CoatAmounts or None
        The dip; gives the density.
    """

    def __init__(self, body: Body | None, amounts: CoatAmounts | None) -> None:
        self.body, self.amounts = body, amounts

    def of(
        self, coat_g: float, u_coat_g: float, bare_g: float | None, all_bare_g: list[float]
    ) -> tuple[float | None, float]:
        """Return the mean thickness and its standard uncertainty [mm].

        Parameters
        ----------
        coat_g, u_coat_g : float
            Mass of the coat and its standard uncertainty [g].
        bare_g : float or None
            Mass of the bare piece [g].
        all_bare_g : list of float
            Masses of all bare pieces [g]: their mean is taken for that of the sheet's shape.

        Returns
        -------
        tuple
            None and NaN where it is not known: see `why_none`.
        """
        if self.body is None or self.amounts is None:
            return None, math.nan
        body, density = pieces.sized(self.body, bare_g, all_bare_g), self.amounts.density_kg_m3
        try:
            thick_mm = coat_thickness_mm(coat_g, body, density)
            u_mm = u_coat_thickness_mm(coat_g, u_coat_g, body, density)
        except OutOfRangeError:
            return None, math.nan
        return thick_mm, math.hypot(u_mm, U_SHAPE * thick_mm)

    def why_none(self) -> str:
        """Return why there is no thickness."""
        if self.body is None:
            return "the sheet gives no shape of a piece"
        if self.amounts is None:
            return "the sheet has no alginate, or more than 10 %, in its coat phase"
        return "no coat of that mass fits this piece"

    def pickup_g(self, stage: CoatStage) -> tuple[Range, float]:
        """Return what a coat of a stage may weigh: likely low and high end, and at most [g]."""
        density = self.amounts.density_kg_m3 if self.amounts is not None else USUAL_COAT_KG_M3
        band, thick, body = stage.pickup_g, stage.thickness_mm, self.body
        if band is not None and band.low is not None and band.high is not None:
            return (band.low, band.high), max(3.0 * band.high, 1.0)
        if body is None:
            return USUAL_PICKUP_G, 3.0 * USUAL_PICKUP_G[1]
        most_g = 0.5 * coat_mass_g(body.radius_mm, body, density)
        if thick is not None and thick.low and thick.high:
            ends = [coat_mass_g(mm, body, density) for mm in (thick.low, thick.high)]
            return (ends[0], ends[1]), min(most_g, 3.0 * ends[1])
        ends = [coat_mass_g(mm, body, density) for mm in (0.2, 1.5)]
        return (ends[0], ends[1]), most_g


def needed_for(
    context: Context,
    stage: SetStage,
    coats_mm: list[float],
    coat_mm: float,
    pieces: int,
    bath_c: float | None,
    t_ns: int,
) -> tuple[NeededDwell | None, str]:
    """Return the needed dwell of a coat, or why the bath cannot set it.

    Parameters
    ----------
    context : Context
        Of the stage under way; gives sheet and what was weighed in.
    stage : SetStage
        The bath that comes.
    coats_mm : list of float
        Coats known so far [mm]; the rest of the pieces is taken to be like them.
    coat_mm : float
        The coat asked about [mm].
    pieces : int
        How many will share the bath.
    bath_c : float or None
        Bath temperature now [degC]; None takes the middle of the sheet's band, or 20.
    t_ns : int
        Now.

    Returns
    -------
    tuple
        The needed dwell, and a refusal for the cook; None and an empty text where the sheet does
        not say enough.
    """
    clock = skin_clock(context.sheet, stage, context.batch.weighed_g, context.batch.slabs)
    clock.begin(coats_mm or [coat_mm], pieces)
    if bath_c is None:
        band = stage.bath_c
        ends = [end for end in (band.low, band.high) if end is not None] if band else []
        bath_c = sum(ends) / len(ends) if ends else USUAL_BATH_C
    clock.sample(seconds(t_ns), bath_c, {coat_mm})
    return clock.needed(coat_mm), clock.refused

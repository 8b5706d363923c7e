"""Amounts that belong together: what to add when one was overshot, shares by mass.

Pure functions of numbers; used by logger.watch.stages.weigh.watcher. Ratios only: no chemistry but
the share of a substance that its purity or crystal water leaves.
"""

from collections.abc import Mapping

from logger.model.errors import OutOfRangeError


def to_add_g(
    wanted_g: Mapping[str, float], weighed_g: Mapping[str, float], overshot: str
) -> dict[str, float]:
    """Masses to add to all others so that the proportions are right again.

    Parameters
    ----------
    wanted_g : mapping
        Masses of the recipe by name [g], each above 0.
    weighed_g : mapping
        What is in the bowl so far by name [g]; a name left out has not been weighed in yet.
    overshot : str
        The name of which there is too much; in both mappings.

    Returns
    -------
    dict
        By name, what is still to be weighed in [g]: the wanted masses scaled by the overshoot,
        less what is there; 0 where there is more than enough.

    Raises
    ------
    OutOfRangeError
        If a wanted mass is not above 0.
    """
    for name, mass_g in wanted_g.items():
        if not mass_g > 0.0:
            raise OutOfRangeError(f"mass of {name} [g]", mass_g, "above 0")
    scale = weighed_g[overshot] / wanted_g[overshot]
    return {
        name: max(0.0, mass_g * scale - weighed_g.get(name, 0.0))
        for name, mass_g in wanted_g.items()
        if name != overshot
    }


def share_percent(
    part_g: float, others_g: float, *, pure_share: float = 1.0, u_part_g: float = 0.0
) -> tuple[float, float]:
    """Share of a substance in a mix, with its standard uncertainty.

    Parameters
    ----------
    part_g : float
        Mass of what carries the substance, as weighed [g], 0 or more.
    others_g : float
        Mass of everything else in the mix [g], 0 or more, not both 0.
    pure_share : float
        Share of the substance in what carries it: purity, less crystal water [g/g], 0 to 1.
    u_part_g : float
        Standard uncertainty of `part_g` [g]; that of the others is taken as negligible beside it.

    Returns
    -------
    tuple of float
        Share and its standard uncertainty [% by mass].

    Raises
    ------
    OutOfRangeError
        If a mass is negative or both are 0, or the pure share is outside 0 to 1.

    References
    ----------
    JCGM 100:2008 (GUM), 5.1.2: sensitivity of p/(p + o) to p is o/(p + o)^2.
    """
    total_g = part_g + others_g
    if part_g < 0.0 or others_g < 0.0 or total_g <= 0.0:
        raise OutOfRangeError(
            "masses of the mix [g]", min(part_g, others_g), "0 or more, not both 0"
        )
    if not 0.0 <= pure_share <= 1.0:
        raise OutOfRangeError("pure share", pure_share, "0 to 1")
    scale = 100.0 * pure_share
    return scale * part_g / total_g, scale * u_part_g * others_g / total_g**2

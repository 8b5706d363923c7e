"""Where the temperature lands when phases are combined, by the balance of their heat.

Pure functions of numbers; used by logger.batch.meeting. Fat that is partly set melts as
far as the mixture is warm enough and takes its latent heat; fat that is melted is taken to stay
melted in the seconds of combining (it supercools), so no heat of setting is counted.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from logger.model.errors import OutOfRangeError
from logger.science.fats.fats import Fat

LOWEST_C, HIGHEST_C = 0.0, 150.0
VESSEL_J_G_K = {
    "glass": 0.84,  # soda-lime glass 0.84 J/(g K): common table value (from memory)
    "stainless steel": 0.50,  # 18/8 steel 0.50 J/(g K): common table value (from memory)
    "aluminium": 0.90,  # 0.90 J/(g K): common table value (from memory)
    "polypropylene": 1.80,  # 1.7 to 1.9 J/(g K): common table value (from memory)
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One thing that goes into the mixture, or the vessel that takes part.

    Attributes
    ----------
    name : str
        What a person calls it.
    mass_g, u_mass_g : float
        Mass [g], above 0, and its standard uncertainty.
    temp_c, u_temp_k : float
        Temperature [degC] and its standard uncertainty [K].
    cp_j_g_k, u_cp_j_g_k : float
        Specific heat [J/(g K)], above 0, and its standard uncertainty.
    fat : Fat or None
        Which fat it is, for latent heat; None for anything else.
    solid_share : float
        Share of the fat that is set, 0 to 1.
    """

    name: str
    mass_g: float
    temp_c: float
    cp_j_g_k: float
    u_mass_g: float = 0.0
    u_temp_k: float = 0.0
    u_cp_j_g_k: float = 0.0
    fat: Fat | None = None
    solid_share: float = 0.0

    @property
    def capacity_j_k(self) -> float:
        """Heat capacity [J/K]."""
        return self.mass_g * self.cp_j_g_k


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixture:
    """What combining gives.

    Attributes
    ----------
    temp_c, u_temp_k : float
        Temperature right after combining [degC] and its standard uncertainty [K]; NaN when that
        of any part is unknown.
    solid_share : float
        Share of the fat that is still set, 0 to 1.
    terms : tuple of (str, float)
        What the uncertainty is made of: name and standard uncertainty [K]; unknown ones (NaN)
        come first.
    """

    temp_c: float
    u_temp_k: float
    solid_share: float
    terms: tuple[tuple[str, float], ...]


def mixing_temp_c(parts: Sequence[Part], *, loss_j: float = 0.0) -> float:
    """Temperature after combining.

    Parameters
    ----------
    parts : sequence of Part
        Everything that takes part, the vessel too; at least one.
    loss_j : float
        Heat lost to the air while combining [J].

    Returns
    -------
    float
        Temperature [degC].

    Raises
    ------
    OutOfRangeError
        If a mass or a specific heat is not positive, or a temperature is outside 0 to 150 degC.
    """
    _check(parts)
    return _landing_c([_Inputs.of(part) for part in parts], loss_j)


class _Inputs(NamedTuple):
    """What the balance takes of a part; each may be shifted by its uncertainty."""

    mass_g: float
    temp_c: float
    cp_j_g_k: float
    latent_j_g: float
    solid: float
    """Share of the fat that is set, 0 to 1."""
    solid_after: float
    """By how much the share at rest is off where it lands."""
    fat: Fat | None

    @classmethod
    def of(cls, part: Part) -> _Inputs:
        """Return the inputs of a part as they are."""
        latent_j_g = part.fat.latent_j_g.value if part.fat is not None else 0.0
        solid = part.solid_share if part.fat is not None else 0.0
        return cls(part.mass_g, part.temp_c, part.cp_j_g_k, latent_j_g, solid, 0.0, part.fat)

    def melting_j(self, temp_c: float) -> float:
        """Heat that the set share takes to melt as far as it would at rest [J]."""
        if self.fat is None or self.solid <= 0.0:
            return 0.0
        rest = self.fat.solid_share(temp_c)
        if rest > 0.0:
            rest = min(max(rest + self.solid_after, 0.0), 1.0)
        return self.mass_g * max(0.0, self.solid - rest) * self.latent_j_g


def _landing_c(inputs: Sequence[_Inputs], loss_j: float) -> float:
    """Temperature after combining [degC]."""
    total = sum(i.mass_g * i.cp_j_g_k for i in inputs)
    sensible = (sum(i.mass_g * i.cp_j_g_k * i.temp_c for i in inputs) - loss_j) / total
    set_parts = [i for i in inputs if i.fat is not None and i.solid > 0.0]
    if not set_parts:
        return sensible

    # Here, because it takes a tenth of a second that every command would pay at its start.
    from scipy.optimize import brentq

    def surplus_j(temp_c: float) -> float:
        melting = sum(i.melting_j(temp_c) for i in set_parts)
        return total * (temp_c - sensible) + melting

    coldest = sensible - sum(i.melting_j(HIGHEST_C) for i in set_parts) / total
    return float(brentq(surplus_j, coldest - 1e-6, sensible + 1e-6, xtol=1e-9))


def mix(parts: Sequence[Part], *, loss_j: float = 0.0, correlation: float = 0.0) -> Mixture:
    """Temperature after combining, with its uncertainty.

    Parameters
    ----------
    parts : sequence of Part
        Everything that takes part, the vessel too.
    loss_j : float
        Heat lost to the air while combining [J].
    correlation : float
        Correlation of the errors of the temperatures [1], 0 to 1: probes on one board share a
        part of theirs.

    Returns
    -------
    Mixture
        Temperature, standard uncertainty and the terms it is made of.

    References
    ----------
    JCGM 100:2008 (GUM), clause 5.1.2 and 5.2.2; sensitivities by central differences.

    Notes
    -----
    Of fat that is partly set, latent heat and solid fat content count, too: that before, which
    goes with its temperature along the curve, and that where it lands, with errors of their own.
    """
    temp_c = mixing_temp_c(parts, loss_j=loss_j)
    terms: list[tuple[str, float]] = []
    variance, by_temp = 0.0, []
    inputs = [_Inputs.of(part) for part in parts]
    for place, part in enumerate(parts):
        for field, u in _uncertain(part):
            if u <= 0.0:
                continue
            if math.isnan(u):  # unknown stays unknown: a term without a size
                terms.append((f"{part.name}, {_SPELLED[field]}", math.nan))
                variance = math.nan
                continue
            slope = _sensitivity(inputs, place, field, u, loss_j)
            terms.append((f"{part.name}, {_SPELLED[field]}", abs(slope) * u))
            variance += (slope * u) ** 2
            if field == _TEMP:
                by_temp.append(slope * u)
    variance += correlation * (sum(by_temp) ** 2 - sum(x * x for x in by_temp))
    solid = [
        (min(p.solid_share, p.fat.solid_share(temp_c)), p.mass_g)
        for p in parts
        if p.fat is not None
    ]
    fat_g = sum(mass for _, mass in solid)
    return Mixture(
        temp_c=temp_c,
        u_temp_k=math.nan if math.isnan(variance) else max(variance, 0.0) ** 0.5,
        solid_share=sum(s * mass for s, mass in solid) / fat_g if fat_g > 0.0 else 0.0,
        terms=tuple(sorted(terms, key=largest_first)),
    )


def largest_first(term: tuple[str, float]) -> float:
    """Return the sort key of a term of an uncertainty: unknown ones first, then by size.

    Parameters
    ----------
    term : tuple of (str, float)
        Name and standard uncertainty [K].
    """
    return -math.inf if math.isnan(term[1]) else -term[1]


def needed_temp_c(
    parts: Sequence[Part], name: str, wanted_c: float, *, loss_j: float = 0.0
) -> float:
    """Temperature that one part must have for the mixture to land where it is wanted.

    Parameters
    ----------
    parts : sequence of Part
        Everything that takes part; the temperature of the part called `name` is not used.
    name : str
        The part that may be warmed or cooled, for example the water.
    wanted_c : float
        Wanted temperature right after combining [degC].
    loss_j : float
        Heat lost to the air while combining [J].

    Returns
    -------
    float
        Temperature [degC], 0 to 100.

    Raises
    ------
    OutOfRangeError
        If no such part is there, or it would have to be below 0 or above 100 degC.
    """
    others = [part for part in parts if part.name != name]
    free = [part for part in parts if part.name == name]
    if len(free) != 1:
        raise OutOfRangeError(f"parts called {name!r}", len(free), "exactly one")
    _check(others)
    surplus = sum(p.capacity_j_k * (wanted_c - p.temp_c) for p in others) + loss_j
    surplus += sum(_Inputs.of(p).melting_j(wanted_c) for p in others)
    needed = wanted_c + surplus / free[0].capacity_j_k
    if not 0.0 <= needed <= 100.0:
        raise OutOfRangeError(f"needed temperature of the {name} [degC]", needed, "0 to 100")
    return needed


_SPELLED = {
    "temp_c": "temperature",
    "mass_g": "mass",
    "cp_j_g_k": "specific heat",
    "latent_j_g": "latent heat",
    "solid": "solid content",
    "solid_after": "solid content where it lands",
}
"""What a person calls an input of a part."""
_TEMP = "temp_c"


def _uncertain(part: Part) -> list[tuple[str, float]]:
    """Inputs of a part with their standard uncertainties."""
    found = [("temp_c", part.u_temp_k), ("mass_g", part.u_mass_g), ("cp_j_g_k", part.u_cp_j_g_k)]
    fat = part.fat
    if fat is None or part.solid_share <= 0.0:
        return found
    u_solid = fat.u_solid_percent / 100.0
    latent = ("latent_j_g", fat.latent_j_g.u)
    return [*found, latent, ("solid", u_solid), ("solid_after", u_solid)]


def _check(parts: Sequence[Part]) -> None:
    if not parts:
        raise OutOfRangeError("parts to combine", 0, "at least one")
    for part in parts:
        if not part.mass_g > 0.0:
            raise OutOfRangeError(f"mass of the {part.name} [g]", part.mass_g, "above 0")
        if not part.cp_j_g_k > 0.0:
            raise OutOfRangeError(
                f"specific heat of the {part.name} [J/(g K)]", part.cp_j_g_k, "above 0"
            )
        if not LOWEST_C <= part.temp_c <= HIGHEST_C:
            raise OutOfRangeError(f"temperature of the {part.name} [degC]", part.temp_c, "0 to 150")


def _sensitivity(
    inputs: Sequence[_Inputs], place: int, field: str, u: float, loss_j: float
) -> float:
    """Change of the mixing temperature with one input, by central differences over 2 u."""
    one = inputs[place]
    value = float(getattr(one, field))
    step = u if field in ("temp_c", "solid_after") else min(u, 0.5 * value)
    ends = []
    for sign in (1.0, -1.0):
        shifted = _shifted(one, field, value + sign * step)
        moved = [*inputs[:place], shifted, *inputs[place + 1 :]]
        ends.append((float(getattr(shifted, field)), _landing_c(moved, loss_j)))
    (high, temp_high), (low, temp_low) = ends
    return (temp_high - temp_low) / (high - low)


def _shifted(one: _Inputs, field: str, value: float) -> _Inputs:
    """Return the inputs with one of them at another value; set fat follows its temperature."""
    if field == "solid":
        value = min(value, 1.0)
    if field != _TEMP:
        return _Inputs(**(one._asdict() | {field: value}))
    temp_c = min(max(value, LOWEST_C), HIGHEST_C)
    if one.fat is None or one.solid <= 0.0:
        return one._replace(temp_c=temp_c)
    follows = one.fat.solid_share(temp_c) - one.fat.solid_share(one.temp_c)
    return one._replace(temp_c=temp_c, solid=min(max(one.solid + follows, 0.0), 1.0))

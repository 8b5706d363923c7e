"""How long a coat must stay in a calcium bath to set through.

The front of logger.science.gel.gelfront, with the coat's curvature, the stagnant liquid at its
surface and a bath that weakens. Pure functions of numbers: thickness comes from
logger.science.gel.coating, capacity from alginate, free calcium from calcium. The range to show
and the live share are in logger.science.gel.dwell.

Notes
-----
Assumed, beside what the front assumes: a core that takes no calcium.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

from logger.model.errors import CannotSetError, OutOfRangeError
from logger.science.gel.coating import Body
from logger.science.gel.gelfront import D25_M2_S, calcium_diffusivity_m2_s, neumann_root

# Stagnant liquid at the surface [m/s]: from memory.
FILM_STIRRED_M_S = 1e-5
FILM_STILL_M_S = 3e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Coat:
    """A coat to be set.

    Parameters
    ----------
    thickness_mm : float
        Mean thickness [mm], above 0.
    capacity_mol_m3 : float
        Calcium it binds [mol/m3], above 0.
    body : Body or None
        What it is on, for the curvature; None for a flat coat.
    """

    thickness_mm: float
    capacity_mol_m3: float
    body: Body | None = None

    def __post_init__(self) -> None:
        if not self.thickness_mm > 0:
            raise OutOfRangeError("coat thickness [mm]", self.thickness_mm, "more than 0")
        if not self.capacity_mol_m3 > 0:
            raise OutOfRangeError("coat capacity [mol/m3]", self.capacity_mol_m3, "more than 0")


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """The bath as a coat meets it.

    Parameters
    ----------
    temp_c : float
        Bath temperature [degC].
    free_calcium_mol_m3 : float
        Calcium free to bind [mol/m3].
    film_m_s : float or None
        Mass transfer coefficient at the surface [m/s]; None leaves the film out.
    demand : float
        Capacity of all coats that will share the bath over its free calcium; 0 leaves depletion
        out, as it must when the calcium is already tracked piece by piece.
    """

    temp_c: float
    free_calcium_mol_m3: float
    film_m_s: float | None = None
    demand: float = 0.0


def set_time_s(coat: Coat, bath: Surroundings, *, d25_m2_s: float = D25_M2_S) -> float:
    """Time until the front has gone through the coat [s].

    Parameters
    ----------
    coat : Coat
        Thickness, capacity, body.
    bath : Surroundings
        Temperature, free calcium, film, demand.
    d25_m2_s : float
        Calcium diffusivity at 25 degC [m2/s].

    Raises
    ------
    CannotSetError
        If the bath has no free calcium, or less than the coats bind.
    """
    free = bath.free_calcium_mol_m3
    if not free > 0:
        raise CannotSetError("free calcium in the bath [mol/m3]", free, "more than 0: add salt")
    depletion = depletion_factor(bath.demand)
    diffusivity = _diffusivity_m2_s(bath.temp_c, d25_m2_s)
    stefan = free / coat.capacity_mol_m3
    root = _root(stefan)
    thickness_m = coat.thickness_mm * 1e-3
    flat = thickness_m**2 / (4 * diffusivity * root**2)
    curved = flat * curvature_factor(coat.thickness_mm, coat.body, root)
    curved *= storage_factor(bath.demand, stefan, coat)
    film = 0.0
    if bath.film_m_s is not None:
        film = film_delay_s(coat, bath)
    return (curved + film) * depletion


@lru_cache(maxsize=1024)
def _diffusivity_m2_s(temp_c: float, d25_m2_s: float) -> float:
    """One diffusivity, kept: the ends of a range are worked out again and again for one bath."""
    return float(calcium_diffusivity_m2_s(temp_c, d25_m2_s=d25_m2_s))


@lru_cache(maxsize=1024)
def _root(stefan: float) -> float:
    """One root, kept: thickness and diffusivity do not change it."""
    return float(neumann_root(stefan))


def film_delay_s(coat: Coat, bath: Surroundings) -> float:
    """Extra time that the stagnant liquid at the surface costs [s].

    Raises
    ------
    OutOfRangeError
        If the film coefficient is not above 0.

    Notes
    -----
    (h/k)(B/c + 1/3) of a flat coat: in all 0 to 30 % longer than a simulation with the film, most
    in a strong still bath, so on the safe side.
    """
    if bath.film_m_s is None:
        return 0.0
    if bath.film_m_s <= 0:
        raise OutOfRangeError("film coefficient [m/s]", bath.film_m_s, "more than 0")
    inverse_stefan = coat.capacity_mol_m3 / bath.free_calcium_mol_m3
    return coat.thickness_mm * 1e-3 / bath.film_m_s * (inverse_stefan + 1 / 3)


def curvature_factor(thickness_mm: float, body: Body | None, root: float = 0.0) -> float:
    """Set time on a curved body over that on a flat one, below 1.

    Parameters
    ----------
    thickness_mm : float
        Mean thickness of the coat [mm], above 0.
    body : Body or None
        What it is on; None for a flat coat.
    root : float
        Neumann's root L of bath and coat [1], 0 or more; 0 is a bath that is very weak against the
        coat.

    Notes
    -----
    Quasi-steady shell laws, exact for L = 0, with what a front of finite speed adds to first order
    in thickness over outer radius R: perturbing Neumann's solution by the curvature gives
    1 - n (h/R) / (3 + 2 L**2), n = 1 for a cylinder and 2 for a sphere, where the quasi-steady laws
    give 1 - n (h/R) / 3. A patty counts as flat, the ends of a cylinder as its side.
    """
    if body is None or body.shape == "patty":
        return 1.0
    outer = body.radius_mm + thickness_mm
    x = body.radius_mm / outer
    faster = thickness_mm / outer * (1 / 3 - 1 / (3 + 2 * root**2))
    if body.shape == "sphere":
        return 1 - 2 * thickness_mm / (3 * outer) + 2 * faster
    quasi_steady = (1 - x**2 + 2 * x**2 * math.log(x)) * outer**2 / (2 * thickness_mm**2)
    return quasi_steady + faster


def depletion_factor(demand: float) -> float:
    """Set time in a bath that weakens over that in one that does not, 1 or more.

    Parameters
    ----------
    demand : float
        Capacity of the coats over free calcium of the bath [1], 0 up to below 1.

    Raises
    ------
    CannotSetError
        If the coats bind as much as there is, or more.
    OutOfRangeError
        If the demand is negative.

    Notes
    -----
    Quasi-steady: -2 (phi + ln(1 - phi)) / phi**2; what is left out is in `storage_factor`.
    """
    if demand < 0:
        raise OutOfRangeError("calcium demand over calcium in the bath", demand, "0 or more")
    if demand >= 1:
        raise CannotSetError(
            "the bath cannot set this coat: calcium the coats bind over calcium in the bath",
            demand,
            "less than 1: more bath, more salt or fewer pieces",
        )
    if demand < 1e-4:
        return 1 + 2 * demand / 3
    return -2 * (demand + math.log1p(-demand)) / demand**2


def storage_factor(demand: float, stefan: float, coat: Coat) -> float:
    """Set time in a weakening bath over that by `depletion_factor`, 1 or more.

    Parameters
    ----------
    demand : float
        Capacity of the coats over free calcium of the bath [1], 0 up to below 1.
    stefan : float
        Free calcium of the bath over the coat's capacity [1], above 0.
    coat : Coat
        Thickness and body, for the curvature.

    Notes
    -----
    What is set holds free calcium too, and the outer shells of a curved coat bind more than their
    share early; the quasi-steady factor has neither. Fitted to the simulation of the tests at
    `stefan` 1 to 8, demands up to 0.6 and coats up to a third of the outer radius: within 2 %.
    """
    body, round_share = coat.body, 0.0
    if body is not None and body.shape != "patty":
        sides = 2.0 if body.shape == "sphere" else 1.0
        round_share = sides * coat.thickness_mm / (body.radius_mm + coat.thickness_mm)
    stored = 0.045 * stefan**2 / (1.0 + stefan)
    return 1.0 + demand * (stored + round_share * (0.11 + 0.02 * stefan))


def calcium_demand(
    coat_volume_mm3: float, capacity_mol_m3: float, bath_volume_ml: float, free_mol_m3: float
) -> float:
    """Calcium that coats bind over the calcium a bath holds.

    Parameters
    ----------
    coat_volume_mm3 : float
        Of all pieces together [mm3].
    capacity_mol_m3, free_mol_m3 : float
        Of the coat and of the bath [mol/m3].
    bath_volume_ml : float
        Volume of the bath [mL], above 0.

    Raises
    ------
    CannotSetError
        If the bath has no volume or no free calcium.
    """
    if bath_volume_ml <= 0 or free_mol_m3 <= 0:
        raise CannotSetError("calcium in the bath", 0.0, "more than 0: add bath or salt")
    return coat_volume_mm3 * 1e-3 * capacity_mol_m3 / (bath_volume_ml * free_mol_m3)

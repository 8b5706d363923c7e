"""How long a coat must stay in a calcium bath to set through.

Calcium moves in from the bath and is bound at a sharp front; behind the front the coat is set. This
is the one-phase Stefan problem with Neumann's exact solution. Pure functions of numbers: thickness
comes from logger.science.coating, capacity from alginate, free calcium from calcium. The range to
show and the live share are in logger.science.dwell.

References
----------
Crank, J. (1984). Free and Moving Boundary Problems. Oxford, section 1.3 and eq. 3.14: Neumann's
solution of the one-phase problem.

Notes
-----
Assumed: binding at once and for good, alginate that stays put, one diffusivity, a core that takes
no calcium, no shrinkage. The textbook quasi-steady law, thickness**2 B / (2 D c), is not used: with
as much calcium in the bath as a kitchen has it asks for 0.2 to 0.9 of the exact time.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import erf

from logger.model.errors import CannotSetError, OutOfRangeError
from logger.science.coating import Body
from logger.science.water import viscosity_pa_s

# Calcium in a gel at 25 degC [m2/s]. Free water: 0.79e-9 for the ion (conductivity), 1.1 to 1.3e-9
# for the salt; gels keep 60 to 95 % of it. Hence 1.0e-9, 0.6 to 1.2e-9.
D25_M2_S = 1.0e-9
D25_LOW_M2_S = 0.6e-9
D25_HIGH_M2_S = 1.2e-9

# Stagnant liquid at the surface [m/s]: from memory.
FILM_STIRRED_M_S = 1e-5
FILM_STILL_M_S = 3e-6

SLAB_METHOD = (
    "Dye the sol, hold it between two glass plates, dip one open edge and read how far the firm "
    "front has come at 1, 2, 5 and 10 min."
)


def neumann_root(stefan: ArrayLike) -> NDArray[np.float64]:
    """Solve sqrt(pi) L exp(L**2) erf(L) = St for L.

    Parameters
    ----------
    stefan : array_like, any shape
        Free calcium of the bath over capacity of the coat, above 0 up to 1e6.

    Returns
    -------
    ndarray, same shape
        L, exact to about 1e-12.

    Raises
    ------
    OutOfRangeError
        If a number lies outside that range or is not a number.

    References
    ----------
    Crank (1984), see the module.
    """
    target = np.asarray(stefan, dtype=float)
    bad = ~((target > 0) & (target <= 1e6))
    if bad.any():
        raise OutOfRangeError("calcium over capacity", float(target[bad].flat[0]), "0 to 1e6")
    # Newton on the logarithm, which is nearly a straight line in ln L; starts at the St -> 0 limit.
    root = np.minimum(np.sqrt(target / 2), np.sqrt(np.log1p(target)) + 0.1)
    for _ in range(60):
        value = math.log(math.pi) / 2 + np.log(root) + root**2 + np.log(erf(root)) - np.log(target)
        slope = 1 + 2 * root**2 + root * 2 / math.sqrt(math.pi) * np.exp(-(root**2)) / erf(root)
        step = value / slope
        root = root * np.exp(-step)
        if np.all(np.abs(step) < 1e-14):
            break
    roots: NDArray[np.float64] = root
    return roots


def calcium_diffusivity_m2_s(
    temp_c: ArrayLike, *, d25_m2_s: float = D25_M2_S
) -> NDArray[np.float64]:
    """Diffusivity of calcium in the gel at a temperature [m2/s].

    Parameters
    ----------
    temp_c : array_like
        Bath temperature [degC], 0 to 60.
    d25_m2_s : float
        Value at 25 degC [m2/s].

    Notes
    -----
    Stokes-Einstein: proportional to absolute temperature over viscosity of water (IAPWS).
    """
    temp = np.asarray(temp_c, dtype=float)
    if not np.all((temp >= 0) & (temp <= 60)):
        wrong = temp[~((temp >= 0) & (temp <= 60))].flat[0]
        raise OutOfRangeError("bath temperature [degC]", float(wrong), "0 to 60")
    kinds, where = np.unique(temp, return_inverse=True)
    fluidity = np.array([viscosity_pa_s(25.0) / viscosity_pa_s(float(kind)) for kind in kinds])
    scaled: NDArray[np.float64] = d25_m2_s * (temp + 273.15) / 298.15
    scaled *= fluidity[where].reshape(temp.shape)
    return scaled


def front_mm(time_s: ArrayLike, diffusivity_m2_s: float, stefan: float) -> NDArray[np.float64]:
    """How far the set front has come into a flat, thick coat [mm]."""
    root = neumann_root(stefan)
    return 2e3 * root * np.sqrt(diffusivity_m2_s * np.asarray(time_s, dtype=float))


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
    root = _root(free / coat.capacity_mol_m3)
    thickness_m = coat.thickness_mm * 1e-3
    flat = thickness_m**2 / (4 * diffusivity * root**2)
    curved = flat * curvature_factor(coat.thickness_mm, coat.body)
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

    Notes
    -----
    (h/k)(B/c + 1/3), 1 to 14 % longer in all than a simulation with the film, so on the safe side.
    """
    if bath.film_m_s is None:
        return 0.0
    if bath.film_m_s <= 0:
        raise OutOfRangeError("film coefficient [m/s]", bath.film_m_s, "more than 0")
    inverse_stefan = coat.capacity_mol_m3 / bath.free_calcium_mol_m3
    return coat.thickness_mm * 1e-3 / bath.film_m_s * (inverse_stefan + 1 / 3)


def curvature_factor(thickness_mm: float, body: Body | None) -> float:
    """Set time on a curved body over that on a flat one, below 1.

    Notes
    -----
    Quasi-steady shell laws; a patty counts as flat, the ends of a cylinder as its side.
    """
    if body is None or body.shape == "patty":
        return 1.0
    outer = body.radius_mm + thickness_mm
    x = body.radius_mm / outer
    if body.shape == "sphere":
        return 1 - 2 * thickness_mm / (3 * outer)
    return (1 - x**2 + 2 * x**2 * math.log(x)) * outer**2 / (2 * thickness_mm**2)


def depletion_factor(demand: float) -> float:
    """Set time in a bath that weakens over that in one that does not, 1 or more.

    Parameters
    ----------
    demand : float
        Capacity of the coats over free calcium of the bath, 0 up to below 1.

    Raises
    ------
    CannotSetError
        If the coats bind as much as there is, or more.

    Notes
    -----
    Quasi-steady: -2 (phi + ln(1 - phi)) / phi**2; 3 % short of a simulation at 0.6.
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
    """
    if bath_volume_ml <= 0 or free_mol_m3 <= 0:
        raise CannotSetError("calcium in the bath", 0.0, "more than 0: add bath or salt")
    return coat_volume_mm3 * 1e-3 * capacity_mol_m3 / (bath_volume_ml * free_mol_m3)


@dataclass(frozen=True, slots=True, kw_only=True)
class SlabCalibration:
    """Diffusivity from a slab test.

    Parameters
    ----------
    d25_m2_s, u_d25_m2_s : float
        Value at 25 degC and its standard uncertainty [m2/s].
    delay_s : float
        Where the line of thickness squared meets zero [s]: the film at the edge, or a late clock.
    rms_mm : float
        Scatter of the readings about the fit [mm].
    """

    d25_m2_s: float
    u_d25_m2_s: float
    delay_s: float
    rms_mm: float


def fit_slab(
    time_s: ArrayLike, thickness_mm: ArrayLike, stefan: float, temp_c: float
) -> SlabCalibration:
    """Fit the diffusivity to thicknesses of set gel read off a slab.

    Parameters
    ----------
    time_s, thickness_mm : array_like, shape (n,), n >= 3
        When [s] and how far the front had come [mm]; both above 0.
    stefan : float
        Free calcium of the bath over capacity of the slab.
    temp_c : float
        Bath temperature [degC].

    Raises
    ------
    OutOfRangeError
        If there are fewer than three readings or the gel did not grow.

    Notes
    -----
    Thickness squared is a straight line in time with slope 4 D L**2. Readings of equal error in
    thickness have an error in its square that grows with thickness: weights 1/thickness.
    """
    time = np.asarray(time_s, dtype=float)
    thick = np.asarray(thickness_mm, dtype=float)
    if time.size < 3 or time.size != thick.size:
        raise OutOfRangeError("slab readings", time.size, "at least 3, a thickness for each time")
    if not (np.all(time > 0) and np.all(thick > 0)):
        raise OutOfRangeError("slab reading", float(min(time.min(), thick.min())), "more than 0")
    design = np.column_stack([time, np.ones_like(time)]) / (2 * thick)[:, None]
    target = thick / 2
    (slope, intercept), *_ = np.linalg.lstsq(design, target, rcond=None)
    if slope <= 0:
        raise OutOfRangeError("growth of thickness squared [mm2/s]", slope, "more than 0")
    residual = target - design @ np.array([slope, intercept])
    variance = float(residual @ residual) / (time.size - 2)
    u_slope = math.sqrt(variance * np.linalg.inv(design.T @ design)[0, 0])
    to_d25 = 1e-6 / (4 * float(neumann_root(stefan)) ** 2)
    to_d25 /= float(calcium_diffusivity_m2_s(temp_c, d25_m2_s=1.0))
    return SlabCalibration(
        d25_m2_s=float(slope) * to_d25,
        u_d25_m2_s=u_slope * to_d25,
        delay_s=float(-intercept / slope),
        rms_mm=math.sqrt(variance),
    )

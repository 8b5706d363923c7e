"""Pure water: boiling point, density, heat capacity, viscosity.

Pure functions of numbers; used by logger.science.metrology.reference_points and by whatever in
logger.science needs water. Equations of IAPWS.
"""

import math

from logger.model.errors import OutOfRangeError

ZERO_C_K = 273.15
# IAPWS-IF97 (R7-97(2012)), table 34: coefficients of the saturation equation, region 4.
_N = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)

# IAPWS SR6-08(2011), liquid water at 0.1 MPa: (coefficient, exponent) of alpha and beta terms.
_VOLUME_A = (
    (6.74458446e3, 4),
    (-2.22521604e5, 5),
    (1.00231247e8, 7),
    (-1.63552118e9, 8),
    (8.32299658e9, 9),
)
_VOLUME_A5 = 1.93763157e-2
_VOLUME_B = (
    (5.78545292e-3, 1),
    (-1.53195665e-2, 2),
    (3.11337859e-2, 3),
    (-4.23546241e-2, 4),
    (3.38713507e-2, 5),
    (-1.19946761e-2, 6),
)
_GIBBS_A = ((-1.661470539e5, 4), (2.708781640e6, 5), (-1.557191544e8, 7))
_GIBBS_B = ((-8.237426256e-1, 2), (1.908956353, 3), (-2.017597384, 4), (8.546361348e-1, 5))
_GIBBS_C3 = -8.983025854
_VISCOSITY = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))  # eq 7
_GAS_CONSTANT_J_KG_K = 461.51805
_REFERENCE_K = 10.0
_REFERENCE_PA = 1e5


def boiling_point_c(pressure_kpa: float) -> float:
    """Boiling point of pure water at a station pressure.

    Parameters
    ----------
    pressure_kpa : float
        Absolute (station) pressure [kPa], 0.611213 to 22064.

    Returns
    -------
    float
        Saturation temperature [degC].

    Raises
    ------
    OutOfRangeError
        If the pressure is NaN or outside the equation's range.

    References
    ----------
    IAPWS R7-97(2012), Industrial Formulation 1997, region 4, equation 31.
    """
    if not 0.611213 <= pressure_kpa <= 22064.0:
        raise OutOfRangeError(
            "station pressure [kPa]",
            pressure_kpa,
            "0.611213 to 22064; near 95 to 103 at low altitude",
        )
    n = _N
    beta = math.sqrt(math.sqrt(pressure_kpa / 1000.0))
    e = beta * beta + n[2] * beta + n[5]
    f = n[0] * beta * beta + n[3] * beta + n[6]
    g = n[1] * beta * beta + n[4] * beta + n[7]
    d = 2.0 * g / (-f - math.sqrt(f * f - 4.0 * e * g))
    total = n[9] + d
    return (total - math.sqrt(total * total - 4.0 * (n[8] + n[9] * d))) / 2.0 - ZERO_C_K


def _checked_kelvin(temp_c: float) -> float:
    if not -20.0 < temp_c < 110.0:
        raise OutOfRangeError("water temperature [degC]", temp_c, "above -20 and below 110")
    return temp_c + ZERO_C_K


def density_kg_m3(temp_c: float) -> float:
    """Density of pure liquid water at 0.1 MPa.

    Parameters
    ----------
    temp_c : float
        Temperature [degC], above -20 and below 110.

    Returns
    -------
    float
        Density [kg/m3].

    Raises
    ------
    OutOfRangeError
        If the temperature is NaN or outside the equation's range.

    References
    ----------
    IAPWS SR6-08(2011), liquid water at 0.1 MPa, equation 2.
    """
    temp_k = _checked_kelvin(temp_c)
    alpha, beta = _REFERENCE_K / (593.0 - temp_k), _REFERENCE_K / (temp_k - 232.0)
    terms = (
        _VOLUME_A5
        + sum(a * alpha**n for a, n in _VOLUME_A)
        + sum(b * beta**m for b, m in _VOLUME_B)
    )
    return _REFERENCE_PA / (_GAS_CONSTANT_J_KG_K * _REFERENCE_K * terms)


def heat_capacity_j_kg_k(temp_c: float) -> float:
    """Specific heat capacity of pure liquid water at 0.1 MPa.

    Parameters
    ----------
    temp_c : float
        Temperature [degC], above -20 and below 110.

    Returns
    -------
    float
        Isobaric heat capacity [J/(kg K)].

    Raises
    ------
    OutOfRangeError
        If the temperature is NaN or outside the equation's range.

    References
    ----------
    IAPWS SR6-08(2011), liquid water at 0.1 MPa, from the second derivative of equation 1.
    """
    temp_k = _checked_kelvin(temp_c)
    tau = temp_k / _REFERENCE_K
    alpha, beta = _REFERENCE_K / (593.0 - temp_k), _REFERENCE_K / (temp_k - 232.0)
    terms = sum(n * (n + 1) * a * alpha ** (n + 2) for a, n in _GIBBS_A) + sum(
        m * (m + 1) * b * beta ** (m + 2) for b, m in _GIBBS_B
    )
    return -_GAS_CONSTANT_J_KG_K * (_GIBBS_C3 + tau * terms)


def viscosity_pa_s(temp_c: float) -> float:
    """Dynamic viscosity of pure liquid water at 0.1 MPa.

    Parameters
    ----------
    temp_c : float
        Temperature [degC], above -20 and below 110.

    Returns
    -------
    float
        Viscosity [Pa s].

    Raises
    ------
    OutOfRangeError
        If the temperature is NaN or outside the equation's range.

    References
    ----------
    IAPWS SR6-08(2011), liquid water at 0.1 MPa, equation 7.
    """
    reduced = _checked_kelvin(temp_c) / 300.0
    return 1e-6 * math.fsum(a * reduced**b for a, b in _VISCOSITY)

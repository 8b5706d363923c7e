"""Known temperatures for checking a probe: melting ice, and water boiling at today's pressure.

Pure functions of numbers; used by the sensor check and by logger.correct. Pressures are station
pressures, never a weather report's, which are reduced to sea level.
"""

import math

from logger.model.errors import OutOfRangeError
from logger.science.heat.water import boiling_point_c

STANDARD_PRESSURE_KPA = 101.325

ICE_POINT_C = 0.0
"""Shaved ice in air-saturated distilled water at 101.325 kPa: ASTM E563."""

U_ICE_BATH_K = 0.1
"""Standard uncertainty of an ice bath made in a kitchen: common practice, no source."""

U_BOILING_K = 0.2
"""Standard uncertainty of a rolling boil besides its pressure: common practice, no source."""

U_WEATHER_KPA = 3.0 / math.sqrt(3.0)
"""Standard uncertainty of a pressure taken from altitude: weather of 3 kPa either way, even."""

# U.S. Standard Atmosphere 1976 / ISO 2533: T0 288.15 K, lapse 6.5 K/km; p = p0 (1 - L h/T0)^n.
_LAPSE_PER_M = 0.0065 / 288.15
_PRESSURE_EXPONENT = 5.25588


def boiling_slope_k_per_kpa(pressure_kpa: float) -> float:
    """How much the boiling point moves with pressure.

    Parameters
    ----------
    pressure_kpa : float
        Absolute (station) pressure [kPa], 0.7 to 22000.

    Returns
    -------
    float
        Slope [K/kPa], by central difference over 0.2 % of the pressure.

    Raises
    ------
    OutOfRangeError
        If the pressure is outside the equation's range.
    """
    step = 0.001 * pressure_kpa
    rise = boiling_point_c(pressure_kpa + step) - boiling_point_c(pressure_kpa - step)
    return rise / (2.0 * step)


def pressure_at_altitude_kpa(altitude_m: float) -> float:
    """Pressure of the standard atmosphere at an altitude.

    Parameters
    ----------
    altitude_m : float
        Altitude above mean sea level [m], -500 to 11000.

    Returns
    -------
    float
        Pressure [kPa].

    Raises
    ------
    OutOfRangeError
        If the altitude is NaN or outside the layer.

    Notes
    -----
    Weather moves the real pressure by about 3 kPa either way; a station pressure is better.

    References
    ----------
    U.S. Standard Atmosphere 1976 and ISO 2533:1975, lowest layer.
    """
    if not -500.0 <= altitude_m <= 11000.0:
        raise OutOfRangeError("altitude [m]", altitude_m, "-500 to 11000")
    return STANDARD_PRESSURE_KPA * math.pow(1.0 - _LAPSE_PER_M * altitude_m, _PRESSURE_EXPONENT)


def boiling_check(
    *,
    pressure_kpa: float | None = None,
    u_pressure_kpa: float = 0.1,
    altitude_m: float | None = None,
) -> tuple[float, float]:
    """Reference temperature of a boiling-point check, with its standard uncertainty.

    Parameters
    ----------
    pressure_kpa : float or None
        Station pressure [kPa]; taken before the altitude.
    u_pressure_kpa : float
        Standard uncertainty of that pressure [kPa]; not used with an altitude.
    altitude_m : float or None
        Altitude [m], when no station pressure is known.

    Returns
    -------
    tuple of float
        Boiling point [degC] and its standard uncertainty [K]: pressure and boil together.

    Raises
    ------
    OutOfRangeError
        If neither pressure nor altitude is given, or one is outside its range.
    """
    if pressure_kpa is None:
        if altitude_m is None:
            raise OutOfRangeError("station pressure [kPa]", math.nan, "a pressure or an altitude")
        pressure_kpa, u_pressure_kpa = pressure_at_altitude_kpa(altitude_m), U_WEATHER_KPA
    from_pressure = boiling_slope_k_per_kpa(pressure_kpa) * u_pressure_kpa
    return boiling_point_c(pressure_kpa), math.hypot(from_pressure, U_BOILING_K)

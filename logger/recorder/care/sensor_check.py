"""A sensor held against a known value: the reference, the readings, the correction for the bench.

The readings are a short run of their own, kept as the evidence, and looked at uncorrected. The
judgement is ``logger.correct.check``'s; the command line and the screen both come here.
"""

import datetime
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.correct.channel import Corrector
from logger.correct.check import check_readings
from logger.model.bench import Channel
from logger.model.errors import InputError
from logger.model.quantity import quantity_at
from logger.science.heat.plunge import fit_plunge
from logger.science.heat.water import boiling_point_c
from logger.science.metrology.reference_points import (
    ICE_POINT_C,
    STANDARD_PRESSURE_KPA,
    U_ICE_BATH_K,
    boiling_check,
)
from logger.store.run.runfile import RunView
from logger.words.durations import duration_text
from logger.words.values import exact_text, value_text

SHEET = """
[sheet]
name = "Sensor check"
product = "sensor check"
"""
U_WEIGHT_SHARE = 50e-6 / 3**0.5
"""Standard uncertainty of a check weight of class M1, as a share: 50 mg/kg of 1 kg (OIML R 111-1,
table 1), even."""

HOW = {
    "ice": "Put the probe into stirred slush of crushed ice and clean water, not touching ice "
    "or wall.",
    "boil": "Put the probe into a rolling boil of clean water, not touching the pot. "
    "Mind the steam.",
    "weight": "Tare the empty scale, put the check weight on, and leave it alone.",
    "plunge": "Keep the probe in air now; in a few seconds plunge it into stirred warm water and "
    "leave it there.",
}
"""What to do during each way of checking."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """A known value.

    Attributes
    ----------
    value, u : float
        True value and its standard uncertainty [degC or g].
    by : str
        What it is called in the bench file.
    remark : str
        What a person should know of it; may be empty.
    """

    value: float
    u: float
    by: str
    remark: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorCheck:
    """What a check found.

    Attributes
    ----------
    channel : str
        Id of the channel.
    offset, u, shown, reference : float
        What must be added, its standard uncertainty, what was shown and what was true [degC or g].
    correction : str
        Inline table for the bench file.
    says : str
        In words.
    """

    channel: str
    offset: float
    u: float
    shown: float
    reference: float
    correction: str
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlungeCheck:
    """What a plunge test found.

    Attributes
    ----------
    channel : str
        Its id.
    time_constant_s, u_s : float
        Time constant and its standard uncertainty [s].
    lag : str
        The inline table for the bench file.
    says : str
        In words.
    """

    channel: str
    time_constant_s: float
    u_s: float
    lag: str
    says: str


def reference_of(
    way: str,
    *,
    weight: str | None = None,
    pressure: str | None = None,
    altitude: str | None = None,
) -> Reference:
    """Return the known value of a way of checking.

    Parameters
    ----------
    way : str
        A key of `HOW`; a plunge has no known value and gives 0.
    weight, pressure, altitude : str or None
        With units, as typed: ``"2 kg"``, ``"98.2 kPa"``, ``"340 m"``.

    Raises
    ------
    InputError
        If the way is unknown, or its quantity is missing or does not read.
    OutOfRangeError
        If pressure or altitude are none that occur.
    """
    if way == "ice":
        return Reference(value=ICE_POINT_C, u=U_ICE_BATH_K, by="ice point")
    if way == "weight":
        mass_g = quantity_at("weight", weight or "", "g")
        if not mass_g > 0.0:
            raise InputError(
                "weight", exact_text(mass_g, "g"), "give the mass marked on the weight"
            )
        return Reference(
            value=mass_g, u=mass_g * U_WEIGHT_SHARE, by=f"check weight {exact_text(mass_g, 'g')}"
        )
    if way == "plunge":
        return Reference(value=0.0, u=0.0, by="plunge")
    if way != "boil":
        raise InputError("way of checking", repr(way), f"there is {', '.join(HOW)}")
    if not pressure and not altitude:
        raise InputError("boil", "no pressure", "give the station pressure or the altitude")
    boiling_c, u_k = boiling_check(
        pressure_kpa=quantity_at("pressure", pressure, "kPa") if pressure else None,
        altitude_m=quantity_at("altitude", altitude, "m") if altitude and not pressure else None,
    )
    boiling = value_text(boiling_c, "degC", 2.0 * u_k)
    sea_level_c = boiling_point_c(STANDARD_PRESSURE_KPA)
    remark = (
        f"Water boils at {boiling} at this pressure; at sea level in average weather it would be "
        f"{exact_text(round(sea_level_c, 2), 'degC')}. Not an error of the probe."
    )
    return Reference(
        value=boiling_c, u=u_k, by=f"boiling point {boiling_c:.2f} degC", remark=remark
    )


def fits(channel: Channel, way: str) -> bool:
    """Whether a way of checking makes sense for a channel."""
    return (channel.unit == "g") == (way == "weight")


def bare_readings(
    view: RunView, channel_id: str
) -> tuple[Channel, NDArray[np.float64], NDArray[np.float64]]:
    """Return a channel of a run, its times [s] and its uncorrected readings, both of shape (n,)."""
    channel = next(c for c in view.bench().channel if c.id == channel_id)
    bare = channel.model_copy(update={"correction": None})
    series = view.readings(channel_id)
    shown, _ = Corrector(bare, view.header.started_date).values(
        series.value, series.cold_junction, view.header.unit_of(channel_id)
    )
    return channel, series.t_ns / 1e9, shown


def checked(
    channel: Channel,
    time_s: NDArray[np.float64],
    shown: NDArray[np.float64],
    reference: Reference,
    day: datetime.date,
) -> SensorCheck:
    """Judge a check and write its correction.

    Parameters
    ----------
    channel : Channel
        That was checked.
    time_s, shown : array of shape (n,)
        Times [s] and uncorrected readings [degC or g].
    reference : Reference
        The known value.
    day : date
        Day of the check.

    Raises
    ------
    OutOfRangeError
        As of ``logger.correct.check.check_readings``.
    """
    found = check_readings(
        time_s,
        shown,
        reference=reference.value,
        u_reference=reference.u,
        unit=channel.unit,
        step=channel.resolution or 0.0,
    )
    key, unit = ("offset_mass", "g") if channel.unit == "g" else ("offset", "K")
    return SensorCheck(
        channel=channel.id,
        offset=found.offset,
        u=found.u,
        shown=found.shown,
        reference=found.reference,
        correction=(
            f'{{ {key} = "{found.offset:.3g} {unit}", checked = {day}, by = "{reference.by}", '
            f"u = {found.u:.2g} }}"
        ),
        says=(
            f"{channel.id} showed {value_text(found.shown, channel.unit, 2.0 * found.u)} at "
            f"{value_text(found.reference, channel.unit, 2.0 * reference.u)}: add "
            f"{value_text(found.offset, unit, 2.0 * found.u)}"
        ),
    )


def plunged(
    channel: Channel,
    time_s: NDArray[np.float64],
    shown: NDArray[np.float64],
    day: datetime.date,
) -> PlungeCheck:
    """Judge a plunge test and write its time constant.

    Parameters
    ----------
    channel : Channel
        The probe.
    time_s, shown : array of shape (n,)
        Times [s] and uncorrected readings [degC].
    day : date
        Day of the test.

    Raises
    ------
    InputError
        If the channel is a scale.
    OutOfRangeError
        As of ``logger.science.heat.plunge.fit_plunge``.
    """
    if channel.unit != "degC":
        raise InputError(f"channel {channel.id!r}", "is a scale", "plunge a probe")
    found = fit_plunge(time_s, shown)
    tau_s, u_s = found.time_constant_s, found.u_time_constant_s
    return PlungeCheck(
        channel=channel.id,
        time_constant_s=tau_s,
        u_s=u_s,
        lag=(
            f'{{ time_constant = "{tau_s:.3g} s", checked = {day}, '
            f'by = "plunge into stirred water", u = "{u_s:.2g} s" }}'
        ),
        says=(
            f"{channel.id}: time constant {duration_text(tau_s, 2.0 * u_s)} in stirred water; "
            "thick food is slower"
        ),
    )

"""Lines of a channel's uncertainty budget as functions of what is measured.

Pure; built by logger.correct.budget, evaluated by logger.correct.channel for one reading at a time
while recording and for whole arrays in review. Both ways do the same arithmetic, so that a run
looks the same live and later. An unknown is NaN and stays NaN.
"""

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from logger.model.errors import OutOfRangeError
from logger.science.metrology.balance import MOST_STEPS_IN_SERVICE, max_permissible_error_g
from logger.science.metrology.tolerance import (
    PLATINUM_WIDEST,
    WireClass,
    widest_wire_k,
    wire_tolerance_k,
)
from logger.science.metrology.uncertainty import Distribution

Floats = NDArray[np.float64]

SPAN_K = 100.0
"""Distance from a check at which it is trusted for nothing: typical, unverified."""

_SQRT_3 = math.sqrt(3.0)


class Limit(Protocol):
    """Half width of an error as a function of the value."""

    def at(self, value: float) -> float:
        """Half width at one value; NaN if unknown there."""

    def over(self, values: Floats) -> Floats:
        """Half widths at values of any shape."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatLimit:
    """The same half width everywhere."""

    half_width: float

    def at(self, value: float) -> float:
        """Half width at one value, both in the unit of the channel."""
        return self.half_width

    def over(self, values: Floats) -> Floats:
        """Half widths at values of any shape, both in the unit of the channel."""
        return np.full(values.shape, self.half_width)


@dataclass(frozen=True, slots=True, kw_only=True)
class WireLimit:
    """Tolerance class of thermocouple wire [K]."""

    tc_type: str
    wire_class: WireClass
    standard: str

    def at(self, value: float) -> float:
        """Half width [K] at one temperature [degC]; NaN outside the range of the class."""
        try:
            return wire_tolerance_k(self.tc_type, self.wire_class, value, self.standard)
        except OutOfRangeError:
            return math.nan

    def over(self, values: Floats) -> Floats:
        """Half widths [K] at temperatures [degC] of any shape."""
        return wire_tolerance_k(self.tc_type, self.wire_class, values, self.standard)


@dataclass(frozen=True, slots=True, kw_only=True)
class WidestWireLimit:
    """The widest tolerance class of thermocouple wire of a type, or of any base metal [K]."""

    tc_type: str | None

    def at(self, value: float) -> float:
        """Half width [K] at one temperature [degC]; NaN outside the range of all classes."""
        return widest_wire_k(self.tc_type, value)

    def over(self, values: Floats) -> Floats:
        """Half widths [K] at temperatures [degC] of any shape."""
        return widest_wire_k(self.tc_type, values)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlatinumLimit:
    """The widest tolerance class of platinum resistors [K]."""

    def at(self, value: float) -> float:
        """Half width [K] at one temperature [degC]."""
        fixed_k, relative = PLATINUM_WIDEST
        return fixed_k + relative * abs(value)

    def over(self, values: Floats) -> Floats:
        """Half widths [K] at temperatures [degC] of any shape."""
        fixed_k, relative = PLATINUM_WIDEST
        return np.asarray(fixed_k + relative * np.abs(values))


@dataclass(frozen=True, slots=True, kw_only=True)
class WidestBalanceLimit:
    """The widest maximum permissible error of a balance in service, of any class [g].

    That of class IIII, and beyond its range the largest of any class.
    """

    interval_g: float

    def at(self, value: float) -> float:
        """Half width [g] at one load [g]."""
        try:
            return max_permissible_error_g("IIII", value, self.interval_g, in_service=True)
        except OutOfRangeError:
            return MOST_STEPS_IN_SERVICE * self.interval_g

    def over(self, values: Floats) -> Floats:
        """Half widths [g] at loads [g] of any shape."""
        held = max_permissible_error_g("IIII", values, self.interval_g, in_service=True)
        beyond = np.isnan(held) & ~np.isnan(values)
        return np.where(beyond, MOST_STEPS_IN_SERVICE * self.interval_g, held)


@dataclass(frozen=True, slots=True, kw_only=True)
class BalanceLimit:
    """Maximum permissible error of a balance in service [g]."""

    oiml_class: str
    interval_g: float

    def at(self, value: float) -> float:
        """Half width [g] at one load [g]; NaN beyond what the class can hold."""
        try:
            return max_permissible_error_g(self.oiml_class, value, self.interval_g, in_service=True)
        except OutOfRangeError:
            return math.nan

    def over(self, values: Floats) -> Floats:
        """Half widths [g] at loads [g] of any shape."""
        return max_permissible_error_g(self.oiml_class, values, self.interval_g, in_service=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """One line of the budget: half width or standard uncertainty, and where it comes from.

    Attributes
    ----------
    name : str
        What contributes.
    source : str
        Where the number comes from; ``"typical, unverified"`` for a default.
    distribution : str
        normal, rectangular or unknown.
    random : bool
        New with each reading (steps, repeatability); else the same for all readings of a channel.
    shared : bool
        The same for all channels of one instrument (cold junction).
    assumed : bool
        Taken because "don't know" was answered.
    """

    name: str
    source: str
    distribution: Distribution = "normal"
    random: bool = False
    shared: bool = False
    assumed: bool = False

    def at(self, value: float) -> float:
        """Standard uncertainty at one value, both in the unit of the channel."""
        raise NotImplementedError

    def over(self, values: Floats) -> Floats:
        """Standard uncertainties at values of any shape, both in the unit of the channel."""
        raise NotImplementedError


@dataclass(frozen=True, slots=True, kw_only=True)
class Steady(Term):
    """The same standard uncertainty everywhere."""

    u: float

    def at(self, value: float) -> float:
        """Standard uncertainty at one value, both in the unit of the channel."""
        return self.u

    def over(self, values: Floats) -> Floats:
        """Standard uncertainties at values of any shape, both in the unit of the channel."""
        return np.full(values.shape, self.u)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limited(Term):
    """Rectangular within a limit; a check makes it small near the places that were checked.

    Attributes
    ----------
    limit : Limit
        Half width without any check.
    share : float
        Part of it that counts, 0 to 1.
    checked_at : tuple of float
        Values at which a check took the error off; the rest grows with the product of the
        distances from them over `SPAN_K`, as the remainder of an interpolation does, and is never
        more than the whole.
    """

    limit: Limit
    share: float = 1.0
    checked_at: tuple[float, ...] = ()

    def at(self, value: float) -> float:
        """Standard uncertainty at one value, both in the unit of the channel."""
        factor = self.share
        if self.checked_at:
            away = 1.0
            for place in self.checked_at:
                away = away * (abs(value - place) / SPAN_K)
            factor = factor * min(away, 1.0)
        return factor * self.limit.at(value) / _SQRT_3

    def over(self, values: Floats) -> Floats:
        """Standard uncertainties at values of any shape, both in the unit of the channel."""
        factor: float | Floats = self.share
        if self.checked_at:
            away = np.ones(values.shape)
            for place in self.checked_at:
                away = away * (np.abs(values - place) / SPAN_K)
            factor = factor * np.minimum(away, 1.0)
        return factor * self.limit.over(values) / _SQRT_3


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoPointCheck(Term):
    """Uncertainty of a straight line through two checks, which grows outside them.

    Attributes
    ----------
    u : float
        Standard uncertainty of each check.
    first, second : float
        True values at the two checks, different.
    """

    u: float
    first: float
    second: float

    def at(self, value: float) -> float:
        """Standard uncertainty at one value, both in the unit of the channel."""
        s = (value - self.first) / (self.second - self.first)
        return self.u * math.sqrt((1.0 - s) * (1.0 - s) + s * s)

    def over(self, values: Floats) -> Floats:
        """Standard uncertainties at values of any shape, both in the unit of the channel."""
        s = (values - self.first) / (self.second - self.first)
        return np.asarray(self.u * np.sqrt((1.0 - s) * (1.0 - s) + s * s))

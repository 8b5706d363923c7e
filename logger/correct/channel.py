"""One channel's readings, corrected and with their uncertainty; the same live and in review.

Pure; made from a Channel of the bench file by the recorder and by review. Takes what an instrument
sent (degC, g, or uV with a cold junction), gives the channel's own unit. What cannot be corrected
becomes NaN with an uncertainty of NaN: bad data is a value in the stream, never an error here.
"""

import datetime
import math

import numpy as np
from numpy.typing import NDArray

from logger.correct.budget import terms_of, unset_keys
from logger.correct.correction import line_of
from logger.correct.standing import Standing, standing_of
from logger.correct.terms import Steady, Term
from logger.model.bench import Channel
from logger.model.errors import OutOfRangeError
from logger.science.metrology.its90 import temperature_c

Floats = NDArray[np.float64]

EMF_UNIT = "uV"


class Corrector:
    """Corrects readings of one channel.

    Parameters
    ----------
    channel : Channel
        As written in the bench file.
    today : date
        Day the run began: decides whether the check is overdue.

    Attributes
    ----------
    channel : Channel
        The channel.
    standing : Standing
        How its check stands on that day.
    terms : tuple of Term
        Lines of the uncertainty budget.

    Raises
    ------
    InputError
        If the correction does not fit the channel's unit.
    """

    def __init__(self, channel: Channel, today: datetime.date) -> None:
        self.channel = channel
        self.standing: Standing = standing_of(channel, today)
        line = line_of(channel.correction, channel.unit, channel.id)
        self._slope, self._offset = line.slope, line.offset
        self.terms: tuple[Term, ...] = terms_of(channel, today)
        self._unit = channel.unit
        sensor = channel.sensor
        is_thermocouple = sensor is not None and sensor.kind == "thermocouple"
        self._tc_type = sensor.type if sensor is not None and is_thermocouple else None
        variance = 0.0
        for term in self.terms:
            if isinstance(term, Steady):
                variance += term.u * term.u
        self._steady_variance = variance
        self._steady_u = math.sqrt(variance)
        self._changing = tuple(t for t in self.terms if not isinstance(t, Steady))

    @property
    def unset(self) -> str:
        """Keys of the bench file that would set its uncertainty; empty where it is set."""
        return unset_keys(self.channel)

    @property
    def known(self) -> bool:
        """Whether its uncertainty is set."""
        return not self.unset

    @property
    def assumed(self) -> bool:
        """Whether a line of its uncertainty was assumed: "don't know" was answered."""
        return any(term.assumed for term in self.terms)

    @property
    def overdue_days(self) -> int:
        """Days since its check should have been repeated; 0 if not due or never checked."""
        return self.standing.overdue_days

    def value(
        self, raw: float, unit: str, cold_junction_c: float | None = None
    ) -> tuple[float, float]:
        """Correct one reading.

        Parameters
        ----------
        raw : float
            As the instrument sent it [`unit`]; NaN for none.
        unit : str
            ``"degC"``, ``"g"`` or ``"uV"``.
        cold_junction_c : float or None
            Cold junction sent with an emf [degC].

        Returns
        -------
        tuple of float
            Corrected value [unit of the channel] and its standard uncertainty [same]. Both NaN if
            the emf is outside the type's range, comes without cold junction or type, or the unit
            does not fit the channel. The uncertainty alone is NaN where it is unknown.
        """
        if unit == EMF_UNIT:
            shown = self._from_emf(raw, cold_junction_c)
        elif unit == self._unit:
            shown = raw
        else:
            return math.nan, math.nan
        value = self._offset + self._slope * shown
        return value, self.u_at(value) if self._changing or value != value else self._steady_u

    def u_at(self, value: float) -> float:
        """Standard uncertainty of one corrected value.

        Parameters
        ----------
        value : float
            Corrected value [unit of the channel].

        Returns
        -------
        float
            Standard uncertainty [same unit]; NaN if unknown, or if the value is NaN.
        """
        if math.isnan(value):
            return math.nan
        variance = self._steady_variance
        for term in self._changing:
            u = term.at(value)
            variance = variance + u * u
        return math.sqrt(variance)

    def _from_emf(self, emf_uv: float, cold_junction_c: float | None) -> float:
        if self._tc_type is None or cold_junction_c is None or self._unit != "degC":
            return math.nan
        try:
            return temperature_c(self._tc_type, emf_uv / 1000.0, cold_junction_c)
        except OutOfRangeError:
            return math.nan

    def values(
        self, raw: Floats, cold_junction_c: Floats | None = None, unit: str | None = None
    ) -> tuple[Floats, Floats]:
        """Correct many readings at once; the same numbers as one by one.

        Parameters
        ----------
        raw : ndarray
            As the instrument sent them [`unit`]; any shape; NaN for none.
        cold_junction_c : ndarray or None
            Cold junctions sent with emfs [degC]; shape of `raw`.
        unit : str or None
            ``"degC"``, ``"g"`` or ``"uV"``. None takes readings with any cold junction for emfs
            and others for the channel's own unit.

        Returns
        -------
        tuple of ndarray
            Corrected values [unit of the channel] and standard uncertainties [same], of the shape
            of `raw`; NaN as in `value`.
        """
        raw = np.asarray(raw, dtype=np.float64)
        if unit is None:
            sent = cold_junction_c is not None and bool(np.any(~np.isnan(cold_junction_c)))
            unit = EMF_UNIT if sent else self._unit
        if unit == EMF_UNIT:
            if self._tc_type is None or cold_junction_c is None or self._unit != "degC":
                return np.full(raw.shape, np.nan), np.full(raw.shape, np.nan)
            shown = temperature_c(self._tc_type, raw / 1000.0, cold_junction_c)
        elif unit == self._unit:
            shown = raw
        else:
            return np.full(raw.shape, np.nan), np.full(raw.shape, np.nan)
        values = self._offset + self._slope * shown
        return values, self.u_over(values)

    def u_over(self, values: Floats) -> Floats:
        """Standard uncertainties of corrected values.

        Parameters
        ----------
        values : ndarray
            Corrected values [unit of the channel]; any shape.

        Returns
        -------
        ndarray
            Standard uncertainties [same unit], of the shape of `values`; NaN if unknown.
        """
        variance = np.full(values.shape, self._steady_variance)
        for term in self._changing:
            u = term.over(values)
            variance = variance + u * u
        return np.where(np.isnan(values), np.nan, np.sqrt(variance))


def difference_uncertainty(a: Corrector, va: float, b: Corrector, vb: float) -> float:
    """Standard uncertainty of the difference of two readings.

    Parameters
    ----------
    a, b : Corrector
        Of the two channels; the same channel twice for a change of one reading.
    va, vb : float
        Corrected values [unit of the channels].

    Returns
    -------
    float
        Standard uncertainty of va - vb [same unit]; NaN if unknown or if the units differ.

    Notes
    -----
    Two channels of one instrument share their cold junction: that line cancels, the others are
    independent. A converter's error that contains the cold junction is taken as independent, which
    is the wider answer. Of one channel read twice all lasting errors cancel but steps and
    repeatability; on a balance the permitted error stays once, since it differs between two loads.

    References
    ----------
    JCGM 100:2008 (GUM), equation 16 with correlations of 0 and 1; F.1.2.3.
    """
    if a.channel.unit != b.channel.unit:
        return math.nan
    if math.isnan(va) or math.isnan(vb):
        return math.nan
    same_board = a.channel.instrument == b.channel.instrument
    if same_board and a.channel.id == b.channel.id:
        return _same_channel(a, va, vb)
    shared_a, own_a = _parts(a, va)
    shared_b, own_b = _parts(b, vb)
    lasting = (shared_a - shared_b) ** 2 if same_board else shared_a**2 + shared_b**2
    return math.sqrt(lasting + own_a + own_b)


def _parts(corrector: Corrector, value: float) -> tuple[float, float]:
    """Standard uncertainty that the instrument shares, and the variance of the rest."""
    shared = own = 0.0
    for term in corrector.terms:
        u = term.at(value)
        if term.shared:
            shared = math.hypot(shared, u)
        else:
            own += u * u
    return shared, own


def _same_channel(corrector: Corrector, va: float, vb: float) -> float:
    variance = 0.0
    is_scale = corrector.channel.unit == "g"
    for term in corrector.terms:
        ua, ub = term.at(va), term.at(vb)
        if term.random:
            variance += ua * ua + ub * ub
        elif is_scale and term.name == "balance":
            variance += max(ua, ub) ** 2 if not math.isnan(ua + ub) else math.nan
        else:
            variance += (ua - ub) ** 2
    return math.sqrt(variance)

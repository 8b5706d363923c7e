"""The readings of a run file, corrected as they were live.

The run file holds what the instruments sent; the corrections are in its frozen bench. Pure: the
view of the run file is handed in. Used by the screen, export and replay, so that there is one way
from stored to corrected values.
"""

import datetime
from collections.abc import Callable
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from logger.correct.channel import Corrector
from logger.model.bench import Bench
from logger.model.reading import Flag
from logger.science.lag import correct_lag, window_points

UNJUDGED = int(Flag.LATE | Flag.UNTRUSTED | Flag.OUT_OF_RANGE)
"""Flags of readings that are kept but were not judged."""
FEWEST_FOR_LAG = 20
"""Readings below which no lag is taken off."""


class StoredSeries(Protocol):
    """What a run file gives for a channel; arrays of one length."""

    @property
    def t_ns(self) -> NDArray[np.int64]:
        """Times [ns]."""

    @property
    def value(self) -> NDArray[np.float64]:
        """As sent; nan where there is none."""

    @property
    def flags(self) -> NDArray[np.int32]:
        """Flags of ``model.reading``."""

    @property
    def cold_junction(self) -> NDArray[np.float64] | None:
        """Cold junction [degC] of an emf channel."""


class StoredHeader(Protocol):
    """The part of a run's header that is needed here."""

    @property
    def started_date(self) -> datetime.date:
        """The day the run began, where it began."""

    def unit_of(self, channel_id: str) -> str:
        """Return the unit in which a channel is stored."""


class StoredRun(Protocol):
    """The part of a run file's view that is needed here."""

    def bench(self) -> Bench:
        """Return the frozen bench."""

    @property
    def header(self) -> StoredHeader:
        """What is known of the run."""

    def readings(
        self, channel: str, from_ns: int | None = None, to_ns: int | None = None
    ) -> StoredSeries:
        """Return the readings of a channel."""


class Trace(NamedTuple):
    """A corrected channel; arrays of one length."""

    t_ns: NDArray[np.int64]
    value: NDArray[np.float64]
    """degC or g; nan where there is no value."""
    u: NDArray[np.float64]
    """Standard uncertainty."""
    flags: NDArray[np.int32]


def corrector_of(run: StoredRun, channel_id: str) -> Corrector:
    """Return the corrector of a channel as it stood when the run began.

    Raises
    ------
    KeyError
        If the bench has no such channel.
    """
    for channel in run.bench().channel:
        if channel.id == channel_id:
            return Corrector(channel, run.header.started_date)
    raise KeyError(channel_id)


def corrected(
    run: StoredRun,
    channel_id: str,
    from_ns: int | None = None,
    to_ns: int | None = None,
    *,
    corrector: Corrector | None = None,
) -> Trace:
    """Return a channel's corrected readings between two times on the run's axis.

    Parameters
    ----------
    run : StoredRun
        View of a run file.
    channel_id : str
        Channel id of its bench.
    from_ns, to_ns : int or None
        Window [ns], both ends included; None is open.
    corrector : Corrector or None
        Kept by a caller that asks often; None makes one.
    """
    series = run.readings(channel_id, from_ns, to_ns)
    corrector = corrector or corrector_of(run, channel_id)
    value, u = corrector.values(series.value, series.cold_junction, run.header.unit_of(channel_id))
    return Trace(series.t_ns, value, u, series.flags)


def without_lag(trace: Trace, time_constant_s: float | None) -> NDArray[np.float64]:
    """Return a temperature trace with the probe's lag taken off, where that pays.

    For review only, beside the readings and never instead of them: what was live stays what was
    judged.

    Parameters
    ----------
    trace : Trace
        Corrected readings [degC].
    time_constant_s : float or None
        Of the probe, from a plunge test [s]; None or 0 gives nothing.

    Returns
    -------
    ndarray
        [degC], of the trace's length; nan before and after gaps, and all nan where it does not
        pay: the lag nowhere exceeds twice the standard uncertainty of the reading.

    Notes
    -----
    The readings are brought to even steps of their median interval first; a gap of more than three
    steps stays a gap.
    """
    nothing = np.full(trace.value.shape, np.nan)
    kept = np.isfinite(trace.value)
    if not time_constant_s or np.count_nonzero(kept) < FEWEST_FOR_LAG:
        return nothing
    time_s, shown_c = trace.t_ns[kept] / 1e9, trace.value[kept]
    step_s = float(np.median(np.diff(time_s)))
    if step_s <= 0.0 or window_points(time_constant_s, step_s) > time_s.size:
        return nothing
    even_s = np.arange(time_s[0], time_s[-1] + step_s / 2, step_s)
    even_c = np.interp(even_s, time_s, shown_c)
    after = np.searchsorted(time_s, even_s, side="left").clip(1, time_s.size - 1)
    in_gap = (time_s[after] - time_s[after - 1] > 3.0 * step_s) & (
        np.minimum(np.abs(time_s[after] - even_s), np.abs(even_s - time_s[after - 1])) > step_s / 2
    )
    even_c[in_gap] = np.nan
    corrected_c = correct_lag(even_c, step_s, time_constant_s)
    u_k = float(np.nanmedian(trace.u[kept])) if np.isfinite(trace.u[kept]).any() else 0.0
    lag_k = np.abs(corrected_c - even_c)
    if not np.isfinite(lag_k).any() or float(np.nanmax(lag_k)) <= 2.0 * u_k:
        return nothing
    nothing[kept] = np.interp(time_s, even_s, corrected_c)
    return nothing


Corrected = Callable[
    [str, StoredSeries],
    tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], str],
]


def correcting(run: StoredRun) -> Corrected:
    """Return what corrects a stored series of a run, for an export.

    Parameters
    ----------
    run : StoredRun
        View of a run file.

    Returns
    -------
    callable
        Channel id and series to values, standard uncertainties, values without the probe's lag
        (nan where that does not pay), all of one shape, and their unit.
    """
    channels = {c.id: c for c in run.bench().channel}

    def right(
        channel_id: str, series: StoredSeries
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], str]:
        channel = channels[channel_id]
        value, u = corrector_of(run, channel_id).values(
            series.value, series.cold_junction, run.header.unit_of(channel_id)
        )
        trace = Trace(series.t_ns, value, np.broadcast_to(u, value.shape), series.flags)
        return value, u, without_lag(trace, channel.time_constant_s), channel.unit

    return right

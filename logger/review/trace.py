"""The readings of a run file, corrected as they were live.

The run file holds what the instruments sent; the corrections are in its frozen bench. Pure: the
view of the run file is handed in. Used by the screen, export and replay, so that there is one way
from stored to corrected values.
"""

import datetime
from collections.abc import Callable, Sequence
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from logger.correct.channel import Corrector
from logger.correct.lagless import without_lag
from logger.correct.tares import counted_in_g
from logger.model.bench import Bench
from logger.model.finding import Results
from logger.model.reading import Flag
from logger.model.rows import TareRow

UNJUDGED = int(Flag.LATE | Flag.UNTRUSTED | Flag.OUT_OF_RANGE)
"""Flags of readings that are kept but were not judged."""
_UNSEEN = int(Flag.LATE | Flag.UNTRUSTED)
"""Flags of readings that no value of the screen was made of."""


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

    def results(self) -> Results | None:
        """Return what the engine worked out when the run ended, or None."""

    def without_lag(self, channel: str) -> NDArray[np.float64] | None:
        """Return what the end of the run stored beside the readings of a channel, or None."""


class Trace(NamedTuple):
    """A corrected channel; arrays of one length."""

    t_ns: NDArray[np.int64]
    value: NDArray[np.float64]
    """degC or g; nan where there is no value."""
    u: NDArray[np.float64]
    """Standard uncertainty."""
    flags: NDArray[np.int32]

    def as_live(self) -> "Trace":
        """Return what the screen showed: no late or untrusted reading, no value out of range."""
        seen = (self.flags & _UNSEEN) == 0
        found = Trace(*(part[seen] for part in self))
        found.value[(found.flags & Flag.OUT_OF_RANGE) != 0] = np.nan
        return found


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
    tares: Sequence[TareRow] | None = None,
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
    tares : sequence of TareRow or None
        Accepted tares; None takes those of the results, which a run has once it is over.
    """
    series = run.readings(channel_id, from_ns, to_ns)
    corrector = corrector or corrector_of(run, channel_id)
    value, u = corrector.values(series.value, series.cold_junction, run.header.unit_of(channel_id))
    value = value + counted_in_g(tares_of(run) if tares is None else tares, channel_id, series.t_ns)
    return Trace(series.t_ns, value, u, series.flags)


def tares_of(run: StoredRun) -> Sequence[TareRow]:
    """Return the tares that were accepted in a run that is over."""
    results = run.results()
    return results.tares if results is not None else ()


class LiveTraces:
    """Corrected traces of a run under way, for who asks again and again.

    Parameters
    ----------
    run : StoredRun
        View of the run file.
    """

    def __init__(self, run: StoredRun) -> None:
        self._run = run
        self._correctors: dict[str, Corrector] = {}

    def of(self, channel_id: str, from_ns: int, tares: Sequence[TareRow]) -> Trace:
        """Return a channel as the screen shows it, from a time on.

        Parameters
        ----------
        channel_id : str
            Channel id of the run's bench.
        from_ns : int
            First time [ns].
        tares : sequence of TareRow
            Accepted so far: those of the recorder's state.
        """
        if channel_id not in self._correctors:
            self._correctors[channel_id] = corrector_of(self._run, channel_id)
        corrector = self._correctors[channel_id]
        found = corrected(self._run, channel_id, from_ns, corrector=corrector, tares=tares)
        return found.as_live()


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
        Channel id and whole series to values, standard uncertainties, values without the probe's
        lag (those stored when the run ended, else worked out now; nan where that does not pay),
        all of one shape, and their unit.
    """
    channels = {c.id: c for c in run.bench().channel}
    tares = tares_of(run)

    def right(
        channel_id: str, series: StoredSeries
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], str]:
        channel = channels[channel_id]
        value, u = corrector_of(run, channel_id).values(
            series.value, series.cold_junction, run.header.unit_of(channel_id)
        )
        value = value + counted_in_g(tares, channel_id, series.t_ns)
        lagless = run.without_lag(channel_id)
        if lagless is None or lagless.size != value.size:
            lagless = without_lag(
                series.t_ns, value, np.broadcast_to(u, value.shape), channel.time_constant_s
            )
        return value, u, lagless, channel.unit

    return right

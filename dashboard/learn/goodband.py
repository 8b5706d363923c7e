"""Where good batches lie along time: lowest and highest of a trace, lined up at an event.

Reads run files through their portraits' ids; what is worked out is kept for the same good runs,
sensor and event. Traces come corrected, and thinned so that their lowest and highest stay in.
"""

import threading
from collections import OrderedDict
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from dashboard.learn.portraits import Portraits
from dashboard.links import Links
from dashboard.points import Points
from dashboard.runs.window import window
from logger.review.compare.compare import anchor_s

FEWEST = 3
"""With fewer good runs there is no band."""
GRID_S = 2.0
"""Step of the times at which a band has its ends [s]."""
MOST_KEPT = 64
"""So many bands are kept."""


class Band(NamedTuple):
    """Lowest and highest of good runs; times from the event on [s]."""

    t_s: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    runs: int


class GoodBands:
    """Bands of good runs of one data folder.

    Parameters
    ----------
    links : Links
        The way to the run files.
    portraits : Portraits
        Numbers of the finished runs.
    """

    def __init__(self, links: Links, portraits: Portraits) -> None:
        self._links, self._portraits = links, portraits
        self._lock = threading.Lock()
        self._kept: OrderedDict[tuple[object, ...], Band | None] = OrderedDict()

    def of(self, run_ids: tuple[str, ...], role: str, event: str) -> Band | None:
        """Return the band of a sensor over good runs; None where fewer than three have it.

        Parameters
        ----------
        run_ids : tuple of str
            The good runs.
        role : str
            Role of the sensor.
        event : str
            Where they are lined up, as for ``compare.anchor_s``.
        """
        runs = [run for run in map(self._portraits.readable, run_ids) if run is not None]
        anchors = [anchor_s(run, event) for run in runs]
        key = (role, event, *zip((run.run_id for run in runs), anchors, strict=True))
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        traces = [
            points
            for run, from_s in zip(runs, anchors, strict=True)
            if from_s is not None
            and (points := aligned(self._links, run.run_id, role, from_s)) is not None
        ]
        made = band_of(traces)
        with self._lock:
            self._kept[key] = made
            while len(self._kept) > MOST_KEPT:
                self._kept.popitem(last=False)
        return made


def aligned(links: Links, run_id: str, role: str, from_s: float) -> Points | None:
    """Return a run's trace with time from an event on; None without such a sensor.

    Parameters
    ----------
    links : Links
        The way to the run files.
    run_id : str
        The run.
    role : str
        Role of the sensor.
    from_s : float
        When the event was [s].
    """
    with links.open_run(run_id) as view, view.together():
        channel = view.bench().channel_of(role)
        if channel is None:
            return None
        points = window(view, channel.id, None, None).points
    return Points(points.t_s - from_s, points.value)


def band_of(traces: list[Points]) -> Band | None:
    """Return lowest and highest where three traces or more have a value; None for fewer traces."""
    there = [p for p in traces if np.isfinite(p.value).sum() > 1]
    if len(there) < FEWEST:
        return None
    first = min(p.t_s[0] for p in there)
    last = max(p.t_s[-1] for p in there)
    grid = np.arange(first, last + GRID_S, max(GRID_S, (last - first) / 4000.0))
    laid = np.array([_on(grid, p) for p in there])
    enough = np.isfinite(laid).sum(axis=0) >= FEWEST
    grid, laid = grid[enough], laid[:, enough]
    return Band(grid, np.nanmin(laid, axis=0), np.nanmax(laid, axis=0), len(there))


def _on(grid: NDArray[np.float64], points: Points) -> NDArray[np.float64]:
    ok = np.isfinite(points.value)
    found: NDArray[np.float64] = np.interp(
        grid, points.t_s[ok], points.value[ok], left=np.nan, right=np.nan
    )
    return found

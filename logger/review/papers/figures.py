"""Traces of a run drawn for paper and for the report: matplotlib figures, no screen, no browser.

Pure; corrected traces and stage rows in, a figure or its SVG text out. Lines differ by dash as well
as by colour and are named at their end; a gap stays a gap.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from logger.model.rows import StageRow

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import FigureBase

_BINS = 700
_GAP_FACTOR, _GAP_S = 8.0, 5.0
# Colours of 3:1 and more on white, of the palette of Okabe and Ito (2008), and black.
_LINES: tuple[tuple[str, Any], ...] = (
    ("#0072B2", "-"),
    ("#D55E00", "-"),
    ("#007A5A", "-"),
    ("#000000", "-"),
    ("#AA4499", (0, (5, 2))),
    ("#0072B2", (0, (1, 1.5))),
    ("#D55E00", (0, (5, 2))),
    ("#000000", (0, (5, 2, 1, 2))),
)
STYLE: Any = {
    "font.size": 8.0,
    "svg.fonttype": "path",
    "svg.hashsalt": "bainlog",
    "pdf.fonttype": 42,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "grid.color": "#dddddd",
    "axes.edgecolor": "#555555",
    "text.parse_math": False,
}
"""How everything is drawn; a typed dollar sign is no mathematics."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """One channel to draw.

    Attributes
    ----------
    label, unit : str
        ``unit`` is ``degC`` or ``g``.
    t_s, value : ndarray, shape (n,)
        Times [s] and values; nan where there is none.
    without_lag : ndarray, shape (n,), or None
        The same without the probe's lag, drawn thinner beside it; None where none is kept.
    """

    label: str
    unit: str
    t_s: NDArray[np.float64]
    value: NDArray[np.float64]
    without_lag: NDArray[np.float64] | None = None


def traces_figure(
    channels: Sequence[Drawn],
    stages: Sequence[StageRow],
    *,
    size_in: tuple[float, float] = (7.4, 5.2),
    figure: FigureBase | None = None,
) -> FigureBase:
    """Draw temperatures above masses, with the stages behind them.

    Parameters
    ----------
    channels : sequence of Drawn
        Those without a value are left out.
    stages : sequence of StageRow
        Of the results.
    size_in : tuple of float
        Width and height [in] of a new figure.
    figure : FigureBase or None
        A figure or a part of one to draw into; None makes a new one.
    """
    # Here, because every process that may need it would pay for it at its start.
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    with rc_context(STYLE):
        if figure is None:
            figure = Figure(figsize=size_in, layout="constrained")
        units = [u for u in ("degC", "g") if any(_has(c) and c.unit == u for c in channels)]
        if not units:
            figure.text(0.5, 0.5, "no readings", ha="center")
            return figure
        grid = figure.subplots(len(units), 1, sharex=True, squeeze=False)
        for axes, unit in zip(grid[:, 0], units, strict=True):
            shown = [c for c in channels if c.unit == unit and _has(c)]
            for number, channel in enumerate(shown):
                _line(axes, channel, number)
            _stages(axes, stages)
            axes.set_ylabel("temperature (°C)" if unit == "degC" else "mass (g)")
            axes.margins(x=0.0)
            axes.legend(
                loc="upper left", bbox_to_anchor=(1.0, 1.0), frameon=False, handlelength=3.0
            )
        grid[-1, 0].set_xlabel("time since the run began (min)")
        return figure


def svg_of(figure: FigureBase) -> str:
    """Return a figure as an SVG element for a page: no prolog, no date, no outside reference.

    Raises
    ------
    ValueError
        If the figure has no root to draw.
    """
    # Here, because every process that may need it would pay for it at its start.
    from matplotlib import rc_context

    with rc_context(STYLE):
        buffer = io.StringIO()
        whole = figure.get_figure(root=True)
        if whole is None:
            raise ValueError("a figure without a root cannot be drawn")
        whole.savefig(buffer, format="svg", metadata={"Date": None, "Creator": None})
    text = buffer.getvalue()
    return text[text.index("<svg") :]


def thinned(
    t_s: NDArray[np.float64], value: NDArray[np.float64], bins: int = _BINS
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Thin a trace out to the lowest and highest value of each bin, gaps kept as nan.

    Parameters
    ----------
    t_s, value : ndarray, shape (n,)
        Rising times [s] and values.
    bins : int
        Number of bins.

    Returns
    -------
    tuple of ndarray
        Times and values to draw; extremes are those of the trace.
    """
    keep = np.isfinite(value)
    t, v = t_s[keep], value[keep]
    if t.size < 2:
        return t, v
    usual_s = float(np.median(np.diff(t)))
    if t.size > 2 * bins:
        edges = np.linspace(t[0], t[-1], bins + 1)
        places = np.clip(np.searchsorted(edges, t, side="right") - 1, 0, bins - 1)
        starts = np.flatnonzero(np.diff(places, prepend=-1))
        picked = []
        for start, stop in zip(starts, [*starts[1:], t.size], strict=True):
            low, high = start + int(np.argmin(v[start:stop])), start + int(np.argmax(v[start:stop]))
            picked += sorted({low, high})
        t, v = t[picked], v[picked]
        usual_s = max(usual_s, float(edges[1] - edges[0]))
    holes = np.flatnonzero(np.diff(t) > max(_GAP_FACTOR * usual_s, _GAP_S))
    return np.insert(t, holes + 1, t[holes]), np.insert(v, holes + 1, np.nan)


def _has(channel: Drawn) -> bool:
    return bool(np.isfinite(channel.value).any())


def _line(axes: Axes, channel: Drawn, number: int) -> None:
    colour, dash = _LINES[number % len(_LINES)]
    t, v = thinned(channel.t_s, channel.value)
    axes.plot(t / 60.0, v, color=colour, linestyle=dash, linewidth=1.0, label=channel.label)
    if channel.without_lag is not None:
        t, v = thinned(channel.t_s, channel.without_lag)
        axes.plot(
            t / 60.0,
            v,
            color=colour,
            linestyle=(0, (1, 1)),
            linewidth=0.6,
            label=f"{channel.label}, without lag",
        )


def _stages(axes: Axes, stages: Sequence[StageRow]) -> None:
    for number, stage in enumerate(stages):
        start, end = stage.start_s, stage.end_s
        if start is None or end is None:
            continue
        if number % 2 == 0:
            axes.axvspan(start / 60.0, end / 60.0, color="#f0f0f0", zorder=0)
        axes.text(
            (start + end) / 120.0,
            1.01,
            stage.id,
            rotation=90,
            fontsize=6.5,
            transform=axes.get_xaxis_transform(),
            ha="center",
            va="bottom",
        )

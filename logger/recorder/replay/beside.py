"""What is worked out once when a run ends and kept beside its readings: traces without lag.

Reads a run file; used at every end of a run, and by replay, which must give the same. Only where
the probe's time constant is known and taking its lag off pays (logger.correct.lagless).
"""

import logging
from collections.abc import Iterable
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from logger.correct.channel import Corrector
from logger.correct.lagless import without_lag
from logger.model.bench import Channel
from logger.model.errors import BainlogError
from logger.model.rows import DerivedRow
from logger.store.blocks.codec import WITHOUT_LAG, packed
from logger.store.run.runfile import RunView

log = logging.getLogger(__name__)


def derived(view: RunView) -> list[DerivedRow]:
    """Return the series to keep beside the readings of a run, as rows of ``Results.derived``.

    Parameters
    ----------
    view : RunView
        The run file, with all its readings.
    """
    stored = {c.id for c in view.channels()}
    rows = (_row(view, c) for c in view.bench().channel if c.id in stored)
    return [row for row in rows if row is not None]


def derived_at_end(path: Path) -> list[DerivedRow]:
    """Return the same of a run that ends now; nothing where that fails, for the run must end."""
    try:
        with RunView.open(path) as view, view.together():
            return derived(view)
    except (BainlogError, ArithmeticError, ValueError, MemoryError) as cause:
        log.error("no traces without lag are kept beside %s: %s", path.name, cause)
        return []


def told(rows: Iterable[DerivedRow]) -> list[dict[str, Any]]:
    """Return rows of ``Results.derived`` without their series, for people and spreadsheets."""
    return [{k: v for k, v in asdict(row).items() if k != "block"} for row in rows]


def _row(view: RunView, channel: Channel) -> DerivedRow | None:
    time_constant_s = channel.time_constant_s
    if channel.unit != "degC" or not time_constant_s:
        return None
    series = view.readings(channel.id)
    value, u = Corrector(channel, view.header.started_date).values(
        series.value, series.cold_junction, view.header.unit_of(channel.id)
    )
    found = without_lag(series.t_ns, value, np.broadcast_to(u, value.shape), time_constant_s)
    if not np.isfinite(found).any():
        return None
    lag = channel.lag
    return DerivedRow(
        channel=channel.id,
        label=channel.name,
        kind=WITHOUT_LAG,
        unit="degC",
        time_constant_s=time_constant_s,
        source="bench file" if lag is None else f"{lag.by or 'plunge test'}, {lag.checked}",
        largest_k=round(float(np.nanmax(np.abs(found - value))), 2),
        readings=int(found.size),
        mean_c=round(float(np.nanmean(found)), 6),
        block=packed(found),
    )

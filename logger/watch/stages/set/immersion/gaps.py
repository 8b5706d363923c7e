"""Several pieces that went into the bath during one gap of its scale.

Pure; used by the bath watcher. The detector places one piece in a gap; of more it only sees that
they come out, as if they had been in before the recording. The rise across the gap tells which.
"""

from collections.abc import Sequence
from dataclasses import replace

from logger.watch.stages.set.immersion.detector import RawEvent
from logger.watch.stages.set.immersion.table import Immersion

OFF_G, OFF_SHARE = 3.0, 0.03
"""How far the rise across a gap may be from the masses of the pieces on their way out, in grams or
as a share of them: drag, drift."""

Gap = tuple[float, float]
"""Start and end of a silence of the scale [s]."""


def placed_in_gaps(
    rows: Sequence[Immersion], log: Sequence[RawEvent], gaps: Sequence[Gap]
) -> tuple[Immersion, ...]:
    """Return the rows with those that fit the rise across a gap placed in it.

    Parameters
    ----------
    rows : sequence of Immersion
        From the detector.
    log : sequence of RawEvent
        Its raw events; those of kind ``gap`` hold the change of level [g].
    gaps : sequence of tuple
        Silences of the scale, from and to [s].

    Returns
    -------
    tuple of Immersion
        Where a gap explains all rows that seemed to be in the bath at the start and came out after
        it, their way in is its interval.
    """
    found = list(rows)
    if not any(_unplaced(row) for row in rows):
        return tuple(found)  # as nearly always; a bad cable has thousands of gaps
    for event in log:
        if event.kind != "gap" or event.change_g <= 0.0:
            continue
        gap = next((g for g in gaps if g[0] <= event.t_s <= g[1]), None)
        if gap is None:
            continue
        fitting = [
            index
            for index, row in enumerate(found)
            if _unplaced(row) and (row.out_s or 0.0) > gap[1]
        ]
        total_g = sum(found[index].mass_out_g or 0.0 for index in fitting)
        if fitting and abs(total_g - event.change_g) <= max(OFF_G, OFF_SHARE * total_g):
            for index in fitting:
                found[index] = _placed(found[index], gap)
    return tuple(found)


def _unplaced(row: Immersion) -> bool:
    return row.at_start and row.mass_out_g is not None


def _placed(row: Immersion, gap: Gap) -> Immersion:
    out_s = row.out_s or gap[1]
    return replace(
        row,
        at_start=False,
        in_between_s=gap,
        dwell_between_s=(max(0.0, out_s - gap[1]), out_s - gap[0]),
    )

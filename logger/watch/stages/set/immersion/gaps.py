"""Several pieces that went into the bath in one gap of its scale.

Pure; used by the bath watcher. The detector places one piece in a gap; of more it only sees that
they come out, as if they had been in before the recording. The level across the gap tells better.
"""

from collections.abc import Sequence
from dataclasses import replace

from logger.watch.stages.set.immersion.assignment import Immersion
from logger.watch.stages.set.immersion.detector import RawEvent

OFF_G, OFF_SHARE = 3.0, 0.03
"""How far the rise across a gap may be from the pieces' masses on their way out: drag, drift."""

Gap = tuple[float, float]


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
        Where a gap explains all rows that seemed to lie in the bath at the start and came out after
        it, their way in is its interval.
    """
    found = list(rows)
    if not any(row.at_start and row.mass_out_g is not None for row in rows):
        return tuple(found)  # as nearly always; a bad cable has thousands of gaps
    for event in log:
        if event.kind != "gap" or event.change_g <= 0.0:
            continue
        gap = next((g for g in gaps if g[0] <= event.t_s <= g[1]), None)
        if gap is None:
            continue
        places = [
            place
            for place, row in enumerate(found)
            if row.at_start and row.mass_out_g is not None and (row.out_s or 0.0) > gap[1]
        ]
        total_g = sum(found[place].mass_out_g or 0.0 for place in places)
        if places and abs(total_g - event.change_g) <= max(OFF_G, OFF_SHARE * total_g):
            for place in places:
                found[place] = _in(found[place], gap)
    return tuple(found)


def _in(row: Immersion, gap: Gap) -> Immersion:
    out_s = row.out_s or gap[1]
    return replace(
        row,
        at_start=False,
        in_between_s=gap,
        dwell_between_s=(max(0.0, out_s - gap[1]), out_s - gap[0]),
    )

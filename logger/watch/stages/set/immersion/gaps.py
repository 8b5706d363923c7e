"""Pieces that went into the bath in a gap of its scale in which more happened.

Pure; used by `detector`. Pieces that seem to have been in before the recording went in during a gap
whose rise nothing else explains, if it is large enough: water may have been poured in with them.
"""

from collections.abc import Sequence
from dataclasses import replace

from logger.watch.stages.set.rows import HiddenRise, Immersion

OFF_G, OFF_SHARE = 3.0, 0.03
"""By how much the masses of the pieces on their way out may exceed the rise, in grams or as a share
of them: drag, drift."""


def placed_in_gaps(
    rows: Sequence[Immersion],
    rises: Sequence[HiddenRise],
    silences_s: Sequence[tuple[float, float]] = (),
) -> tuple[Immersion, ...]:
    """Return the rows with those placed in a gap that its rise can hold.

    Parameters
    ----------
    rows : sequence of Immersion
        All of a table.
    rises : sequence of HiddenRise
        Of the same table.
    silences_s : sequence of tuple
        From when to when the scale was silent, each time [s]: a later one may hide it, too.

    Returns
    -------
    tuple of Immersion
        Where a gap can explain all rows that seemed to be in the bath at the start and came out
        after it, their way in is its interval.
    """
    found = list(rows)
    for rise in (one for one in rises if one.rise_g > 0.0):
        fitting = [
            index
            for index, row in enumerate(found)
            if row.at_start and row.mass_out_g is not None and (row.out_s or 0.0) > rise.to_s
        ]
        total_g = sum(found[index].mass_out_g or 0.0 for index in fitting)
        if total_g <= rise.rise_g + max(OFF_G, OFF_SHARE * total_g):
            for index in fitting:
                found[index] = _placed(found[index], rise, silences_s)
    return tuple(found)


def _placed(
    row: Immersion, rise: HiddenRise, silences_s: Sequence[tuple[float, float]]
) -> Immersion:
    out_s = row.out_s or rise.to_s
    later_s = [to_s for _, to_s in silences_s if rise.to_s < to_s < out_s]
    latest_s = max(later_s, default=rise.to_s)
    between_s = (max(0.0, out_s - latest_s), out_s - rise.from_s)
    return replace(
        row,
        at_start=False,
        in_between_s=(rise.from_s, latest_s),
        dwell_between_s=between_s,
        may_last_s=(0.0, between_s[1]),  # a silence may hide a swap of which no trace is left
    )

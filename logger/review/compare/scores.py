"""Scores of tasters compared between batches: means, and whether the batches differ at all.

Pure. A score counts where a taster has scored every batch; ranks within each taster, because some
give higher scores than others.
"""

from collections.abc import Sequence

from logger.model.rows import ResultRow
from logger.science.statistics.exact import scores_differ_p
from logger.words.digits import fixed
from logger.words.values import percent_text


def scores_say(measured: Sequence[Sequence[ResultRow]]) -> list[str]:
    """Return what each scored result says of batches.

    Parameters
    ----------
    measured : sequence of sequence of ResultRow
        Results of each batch.
    """
    names = dict.fromkeys(row.name for rows in measured for row in rows if row.by)
    return [said for name in names if (said := _says(name, measured))]


def _says(name: str, measured: Sequence[Sequence[ResultRow]]) -> str:
    by_batch = [{r.by: r.value for r in rows if r.name == name and r.by} for rows in measured]
    tasters = [by for by in by_batch[0] if all(by in scores for scores in by_batch)]
    if len(tasters) < 2:
        return ""
    means = [sum(scores[by] for by in tasters) / len(tasters) for scores in by_batch]
    p = scores_differ_p([[scores[by] for scores in by_batch] for by in tasters])
    return (
        f"{name}, mean of {len(tasters)} tasters: {', '.join(fixed(m, 1) for m in means)} "
        f"(chance {percent_text(p)} of ranks so far apart if the batches were alike)"
    )

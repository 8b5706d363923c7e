"""Whether a run still has all that it was judged from, so that a replay may overrule what it holds.

Reads a run file. Used by the command that works a run out again and by corrections of a finished
run: both would put findings from fewer readings in the place of better ones.
"""

from collections.abc import Sequence
from dataclasses import replace

from logger.model.finding import Results
from logger.model.rows import JudgedRow
from logger.recorder.replay.replay import Difference
from logger.store.run.runfile import RunView
from logger.words.counts import count_text

STANDS = "The earlier findings stay as they are."
OPEN = "By another sheet, so few decide nothing."


def readings_gone(view: RunView) -> str:
    """Return that a run has fewer readings than it was judged from, in words; empty if it has all.

    Parameters
    ----------
    view : RunView
        The run file. Readings that are damaged in it are not gone: raw bytes may have them.

    Notes
    -----
    A run of before the count was kept is taken as whole.
    """
    results = view.results()
    damaged = {one.channel: 0 for one in view.damage()}
    for one in view.damage():
        damaged[one.channel] += one.readings
    for row in results.judged if results is not None else ():
        left = _stored(view, row) + damaged.get(row.channel, 0)
        if left < row.readings:
            of = count_text(row.readings, "reading")
            return f"the run was judged from {of} of {row.channel}, and {left} are left"
    return ""


def raw_gone(view: RunView, differences: Sequence[Difference]) -> str:
    """Return that raw bytes are missing, in words; empty if they give every reading, or no results
    were saved.

    Parameters
    ----------
    view : RunView
        The run file.
    differences : sequence of Difference
        What the raw bytes give, per channel; empty for a run that never had any.
    """
    if view.results() is None:
        return ""
    for one in differences:
        stored = one.stored + one.damaged
        if one.from_raw < stored:
            return f"the raw bytes give {one.from_raw} of {stored} readings of {one.channel}"
    return ""


def left_open(found: Results, gone: str) -> Results:
    """Return what was judged from fewer readings than there were, with no verdict decided.

    Parameters
    ----------
    found : Results
        Judged from what is left.
    gone : str
        What is missing, in words.
    """
    decided = ("met", "not met")
    return replace(
        found,
        findings=[
            replace(f, verdict="undecided", evidence=f"{f.evidence}; {gone}")
            if f.verdict in decided
            else f
            for f in found.findings
        ],
        immersions=[
            replace(row, verdict="undecided") if row.verdict in decided else row
            for row in found.immersions
        ],
    )


def _stored(view: RunView, row: JudgedRow) -> int:
    """Return how many readings of a channel a run holds; 0 for one that it does not know."""
    known = {channel.id for channel in view.channels()}
    return view.count(row.channel) if row.channel in known else 0

"""What the last run of a sheet's product left to mind, in a line for the batch card.

Pure; a finished run and its explanation in, a sentence out.
"""

from collections.abc import Callable

from logger.review.features.portrait import Portrait
from logger.review.headline import said_of
from logger.review.why.explanation import Explanation
from logger.words.dates import date_text
from logger.words.shown import AsRecorded


def last_run_text(started: str, run: Portrait, why: Explanation | None) -> str:
    """Return what to do unlike in the last run, else what it came to: ``"3 Sep 2025: ..."``.

    Parameters
    ----------
    started : str
        When it began, as ISO 8601.
    run : Portrait
        The run.
    why : Explanation or None
        Of one that was rejected.
    """
    said = said_of(run.findings, run.outcome, why, AsRecorded())
    return f"{date_text(started)}: {said.next_time or said.headline}"


def last_of(
    run_id: str,
    started: str,
    portrait_of: Callable[[str], Portrait | None],
    explained: Callable[[str], Explanation | None],
) -> str:
    """Return what a run left to mind; empty for one that can't be read.

    Parameters
    ----------
    run_id, started : str
        The run, and when it began, as ISO 8601.
    portrait_of : callable
        Gives its portrait.
    explained : callable
        Explains it; asked only where it was rejected.
    """
    run = portrait_of(run_id)
    if run is None:
        return ""
    why = explained(run_id) if run.outcome == "rejected" else None
    return last_run_text(started, run, why)

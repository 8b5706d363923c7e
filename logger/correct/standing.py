"""How a channel's check stands: when it was checked, whether that is too long ago, what to do.

Pure; reads a Channel of the bench file and the day of the run. Used by logger.correct.channel; the
screen, the results and the report show its words. The due time is the bench file's own.
"""

import datetime
from dataclasses import dataclass

from logger.correct.correction import overdue_days
from logger.model.bench import Channel

HOW = {"degC": "check it in ice water", "g": "check it with a check weight"}
NEVER = "never checked"


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A channel's check on the day of a run.

    Attributes
    ----------
    checked : date or None
        Day of the check; None if there was none.
    ago_days : int or None
        Days since then; below 0 if its date lies ahead.
    due_days : int or None
        How long it holds [d].
    overdue_days : int
        Days since it should have been repeated; 0 if not due or never checked.
    says : str
        In words: ``"checked 410 days ago; check it in ice water"``.
    """

    checked: datetime.date | None
    ago_days: int | None
    due_days: int | None
    overdue_days: int
    says: str


def standing_of(channel: Channel, today: datetime.date) -> Standing:
    """How a channel's check stands on a day.

    Parameters
    ----------
    channel : Channel
        As written in the bench file.
    today : date
        Day of the run.

    Returns
    -------
    Standing
        With what to do where it is overdue.
    """
    correction = channel.correction
    if correction is None:
        return Standing(checked=None, ago_days=None, due_days=None, overdue_days=0, says=NEVER)
    ago = (today - correction.checked).days
    late = overdue_days(correction, today)
    says = _ago(ago)
    if late > 0:
        says += f"; {HOW[channel.unit]}"
    return Standing(
        checked=correction.checked,
        ago_days=ago,
        due_days=correction.due_days,
        overdue_days=late,
        says=says,
    )


def _ago(days: int) -> str:
    if days < 0:
        return "its check has a date in the future; check the computer's date"
    if days == 0:
        return "checked today"
    return "checked yesterday" if days == 1 else f"checked {days} days ago"

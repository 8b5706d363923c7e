"""What of a run file is damaged: which part, whose, from when to when.

Values and the sentences that say them. Made where a run file is read, given out by commands and
pages.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from logger.words.durations import clock

DamagedPart = Literal[
    "format",
    "header",
    "sheet",
    "sheet text",
    "bench",
    "bench text",
    "line formats",
    "end",
    "outcome",
    "results",
    "channel",
    "readings",
    "overview",
    "raw bytes",
    "events",
    "clocks",
    "counters",
    "counts",
    "contents",
    "photo",
    "log",
    "no log",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Damage:
    """A part of a run file that is not as it was written; what else is shown is whole.

    Attributes
    ----------
    part : str
        One of `DamagedPart`.
    channel : str or None
        Whose readings; None where no channel is meant or its name is what is damaged.
    from_s, to_s : float or None
        From when to when on the run's axis [s], as far as whole neighbours tell; None is its start
        and its end.
    first, last : int or None
        The numbers of readings, events or chunks that are gone.
    """

    part: DamagedPart
    channel: str | None = None
    from_s: float | None = None
    to_s: float | None = None
    first: int | None = None
    last: int | None = None

    @property
    def readings(self) -> int:
        """How many readings are gone; 0 for any other part."""
        if self.part != "readings" or self.first is None or self.last is None:
            return 0
        return self.last - self.first + 1


SAID: dict[DamagedPart, str] = {
    "format": "The format number is damaged; read as the format it was written in.",
    "header": "The run's identity is damaged: its id, start or clock.",
    "sheet": "The sheet is damaged; it is read again from its text.",
    "sheet text": "The text of the sheet is damaged.",
    "bench": "The bench is damaged; it is read again from its text.",
    "bench text": "The text of the bench file is damaged.",
    "line formats": "The line formats are damaged.",
    "end": "The time of the run's end is damaged.",
    "outcome": "The outcome is damaged.",
    "results": "The saved results are damaged; findings are worked out again from the readings.",
    "channel": "A sensor's row is damaged: its name or unit. Its readings are left out.",
    "clocks": "Comparisons of the clocks are damaged.",
    "counters": "Counts of an instrument are damaged.",
    "counts": "The counts of what must be there are damaged: something may be missing at the end.",
    "photo": "A photo is damaged; it is left out.",
    "contents": "The file's table of contents is damaged.",
    "log": "The end of the run is missing: its log can't be read to the end.",
    "no log": "The end of the run may be missing: its log (-wal) was not beside it, or was empty.",
}
"""Sentences about parts that have no place in time."""
REPLAY = "'bainlog replay' restores damaged readings from the raw bytes, where those are whole."


def sentence(damage: Damage) -> str:
    """Say in one sentence what is damaged."""
    where = _when(damage)
    if damage.part == "readings":
        return f"Readings of {damage.channel or 'a sensor'} are damaged{where}."
    if damage.part == "overview":
        return f"The drawing of {damage.channel or 'a sensor'} is damaged{where}; made again."
    if damage.part == "raw bytes":
        return f"Raw bytes are damaged{where}."
    if damage.part == "events":
        return f"{_events(damage)} damaged{where}."
    return SAID[damage.part]


def sentences(found: Iterable[Damage]) -> list[str]:
    """Say what is damaged, each thing once, and where damaged readings can be had again."""
    found = list(found)
    said = list(dict.fromkeys(sentence(damage) for damage in found))
    if any(damage.part == "readings" for damage in found):
        said.append(REPLAY)
    return said


def _when(damage: Damage) -> str:
    if damage.from_s is None and damage.to_s is None:
        return ""
    if damage.to_s is None:
        return f" from {clock(damage.from_s)} to the end"
    if damage.from_s is None:
        return f" from the start to {clock(damage.to_s)}"
    if clock(damage.from_s) == clock(damage.to_s):
        return f" at {clock(damage.from_s)}"
    return f" from {clock(damage.from_s)} to {clock(damage.to_s)}"


def _events(damage: Damage) -> str:
    if damage.first is None:
        return "Events are"
    if damage.last is None or damage.first == damage.last:
        return f"Event {damage.first} is"
    return f"Events {damage.first} to {damage.last} are"

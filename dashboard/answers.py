"""What the recorder answers to the requests of a page, as records.

Pure. ``dashboard.links`` makes them of what comes over the control line; what a request takes and
gives is in DEVELOPERS.md.
"""

from dataclasses import dataclass, field

from logger.model.bench import Bench


@dataclass(frozen=True, slots=True, kw_only=True)
class Committed:
    """An operator's command, committed: number of its event, the run it began or ended, and for a
    correction what it did, in words."""

    seq: int = 0
    run: str = ""
    says: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """Something was written down, told in a sentence."""

    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetSaved:
    """A sheet was saved: its revision and text, and whether that is another than before."""

    revision: int
    changed: bool
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckBegun:
    """A check of a sensor was begun: its run, how long it reads [s], what to do, a remark."""

    run: str
    for_s: float
    how: str
    remark: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A piece of a line, and which of its numbers it is, from 1; 0 is no number."""

    text: str
    number: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line of an instrument that nobody knows, and which one of all that were heard."""

    line: int
    pieces: list[Piece] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What was heard on one port; `shape` is the line format that was recognised, if any."""

    says: str
    device: str = ""
    shape: str | None = None
    lines: list[Line] = field(default_factory=list)
    """Of one that is not recognised."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """How listening to the ports stands: under way, ever asked for, and what was heard."""

    busy: bool
    asked: bool
    heard: list[Heard] = field(default_factory=list)
    tried: list[str] = field(default_factory=list)
    """How far each port is, while it is under way."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Described:
    """The bench that the recorder works with, and the sheet it was started with, as text."""

    bench: Bench
    sheet: str | None = None

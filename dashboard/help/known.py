"""The few things to know of each page, a first batch in five minutes, and which words a page uses.

Plain text by the path of a page. What a word means is in ``logger.words.vocabulary``.
"""

import re
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What to know of one page.

    Attributes
    ----------
    path : str
        Pattern of the page's path.
    title : str
        Of its help.
    things : tuple of str
        What to know, at most five sentences or pairs of them.
    words : tuple of str
        Words of the vocabulary that it uses.
    keys : tuple of (str, str)
        Letter keys of the page and what they do.
    """

    path: str
    title: str
    things: tuple[str, ...]
    words: tuple[str, ...]
    keys: tuple[tuple[str, str], ...] = ()


FIRST_BATCH = (
    "Start the virtual bench with: bainlog demo. With nothing set up, the bench page has a button "
    "for it.",
    "On the bench page, read the large sentence. It says what to do now; the demo does it for you.",
    "Watch a piece go into the bath: the scale sees it, and its clock starts by itself.",
    "In the last stage press End batch, say how it came out, then choose Open the run.",
    "On Runs, open a rejected batch and press See why. It says the cause and what to do next time.",
)
"""A first batch in five minutes with the virtual bench."""

_CHECKS = (
    "met",
    "not met",
    "too close to call",
    "not measured",
    "for information",
    "assumed",
    "uncertainty",
)

PAGES = (
    Known(
        path="/",
        title="At the bench",
        things=(
            "The large sentence says what to do now. The highlighted button does it.",
            "Pieces time themselves from the scale under the bath. If it missed one, say so under "
            "More.",
            "Undo takes back the last entry, or moves it to another time.",
            "Closing this page stops nothing: the recorder goes on and saves everything.",
            "An old reading is struck through. A gap in a trace is a time without readings.",
        ),
        words=(
            "batch",
            "run",
            "sheet",
            "stage",
            "target",
            "piece",
            "sensor",
            "dwell",
            "setting point",
            "too close to call",
            "acknowledged",
            "dropout",
            "recorder",
        ),
        keys=(
            ("S", "start a batch"),
            ("G", "resume the last batch"),
            ("N", "next stage"),
            ("M", "mark"),
            ("T", "note"),
            ("U", "undo"),
            ("P", "next piece is in"),
            ("1 to 9", "that piece is out"),
            ("C", "confirm piece"),
            ("E", "end the batch"),
        ),
    ),
    Known(
        path="/runs",
        title="Runs",
        things=(
            "Each row is one batch. The strip shows its stages; red is a stage with a check not "
            "met.",
            "Filters and the search field narrow the list: lot, note, defect, product.",
            "Tick two rows or more and press Compare.",
            "Say how a run came out on its own page, even days later.",
        ),
        words=("batch", "run", "sheet", "lot", "stage", "target", "not met", "good batches"),
    ),
    Known(
        path="/runs/[0-9a-z-]+",
        title="One run",
        things=(
            "The first sentence is the verdict. Below it are the checks that were not met.",
            "Press show at beside a check to see it on the traces. Drag on the traces to look "
            "closer; Whole run goes back.",
            "Stages with a check not met are open. Press the others to open them.",
            "Outcome, notes and photos can be added at any time. Nothing recorded is changed.",
            "Under What was done, take an entry back or move it; the run is then judged again.",
        ),
        words=(
            "run",
            "stage",
            "target",
            "piece",
            "dwell",
            "event",
            "dropout",
            *_CHECKS,
            "good batches",
        ),
    ),
    Known(
        path="/why/[0-9a-z-]+",
        title="Why",
        things=(
            "The cause that fits best comes first, with what to do next time below it.",
            "The pale band is where good batches were at that moment, lowest to highest.",
            "What speaks against the cause is listed too. Read it before you change something.",
            "With few good batches, less can be said. Mark the good ones as accepted.",
        ),
        words=(
            "run",
            "target",
            "good batches",
            "usual scatter",
            "score",
            "not measured",
            "uncertainty",
        ),
    ),
    Known(
        path="/compare",
        title="Compare",
        things=(
            "Two runs: the differences, largest first, and their traces lined up at the same "
            "event.",
            "Many runs: two groups are compared. Each number has its difference with a 95 % "
            "interval, and each run is a dot.",
            "Two batches can't show that a change made the difference. Repeat the change.",
        ),
        words=("run", "event", "good batches", "usual scatter", "uncertainty"),
    ),
    Known(
        path="/sheets",
        title="Sheets",
        things=(
            "Form and text are the same sheet. What the form can't show stays in the text.",
            "In the grid, Enter changes a cell. Paste a column or a whole list from a spreadsheet.",
            "A sheet is checked while you type. Each wrong value is named, with its right form.",
            "What to expect follows the amounts: mixing temperature, needed dwell, cost.",
            "Save makes a new revision. Runs keep the sheet that they were made with.",
        ),
        words=("sheet", "stage", "target", "piece", "lot", "setting point", "dwell"),
    ),
    Known(
        path="/instruments",
        title="Instruments",
        things=(
            "Listen checks all ports and names the line format of each instrument.",
            "Say what each sensor is. Don't know is an answer: the widest published class is used.",
            "Check a probe in ice water, a scale with a weight. The page says when a check is due.",
            "A change to the bench file takes effect when the recorder next starts.",
        ),
        words=(
            "sensor",
            "instrument",
            "line format",
            "correction",
            "assumed",
            "uncertainty",
            "recorder",
        ),
    ),
)


def known_of(path: str) -> Known:
    """Return what to know of the page at a path; that of the bench where there is no such page."""
    return next((page for page in PAGES if re.fullmatch(page.path, path)), PAGES[0])

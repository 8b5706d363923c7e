"""Which answers are kept, and how they are compared with those of today.

``fixtures/answers/<name>.txt`` holds each; ``python -m tests.answers --write`` writes them anew.
"""

import difflib
from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path

from tests.answers import by_formula, calls, reviews, sensors, sessions
from tests.answers.lines import same

FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "answers"
HANDS = (
    ("bath", "gap at a removal", 0), ("bath", "gap of nothing", 0), ("bath", "unequal pieces", 1),
    ("pours", "ladles", 1), ("pours", "stirring force", 0), ("pours", "interrupted", 0),
    ("weighing", "one forgotten", 1), ("weighing", "bump and drift", 0),
    ("weighing", "too much and back", 0),
)  # fmt: skip
"""Short cases in which much happens."""
ROOMS = ("science", "correct", "watch", "review", "batch")
CALLS = "calls of"
BALANCE = {"kind": "balance", "linearity": "0.02 g"}
RTD = {"kind": "rtd", "accuracy": "0.3 K", "time_constant": "3 s"}
ANSWERS: dict[str, Callable[[], Iterable[str]]] = {
    **{f"{work} {habit}": partial(sessions.hands, work, habit, n) for work, habit, n in HANDS},
    "all kinds of stages": sessions.all_kinds,
    "a day by formulas": sessions.day,
    "pieces on a scale": partial(
        sessions.formula, by_formula.PIECES_SHEET, {"bench_scale": BALANCE}, by_formula.pieces
    ),
    "a fat that sets": partial(
        sessions.formula, by_formula.FAT_SHEET, {"fat": RTD, "room": None}, by_formula.setting_fat
    ),
    "faults and acts": partial(
        sessions.formula, by_formula.FAULTS_SHEET, by_formula.FAULTY_SENSORS, by_formula.faults
    ),
    "budgets": sensors.budgets,
    "short chill": partial(reviews.kitchen, "short_chill", 93_001, "too soft"),
    "cold corner": partial(reviews.kitchen, "cold corner with a probe", 93_001, "too soft"),
    "among runs": reviews.among_runs,
    "plans": reviews.planned,
    **{f"{CALLS} {room}": partial(calls.of_room, room) for room in ROOMS},
}


def file_of(name: str) -> Path:
    """Return where an answer is kept."""
    return FOLDER / f"{name.replace(' ', '_')}.txt"


def today(name: str) -> list[str]:
    """Return an answer as the program gives it now."""
    return [line.replace("\n", "\\n") for line in ANSWERS[name]()]


def since(name: str) -> list[str]:
    """Return how an answer differs from the one that is kept.

    A function that is new, or is no more, has nothing to be compared with.
    """
    path = file_of(name)
    kept, now = path.read_text(encoding="utf-8").splitlines(), today(name)
    if name.startswith(CALLS):
        both = {_called(line) for line in kept} & {_called(line) for line in now}
        kept, now = ([x for x in lines if _called(x) in both] for lines in (kept, now))
    return changed(kept, now)


def _called(line: str) -> str:
    return line.partition(":")[0]


def changed(kept: list[str], now: list[str]) -> list[str]:
    """Return the lines that are otherwise, as a difference between texts."""
    if len(kept) == len(now):
        pairs = [(a, b) for a, b in zip(kept, now, strict=True) if not same(a, b)]
        return [line for a, b in pairs for line in (f"-{a}", f"+{b}")]
    return [d for d in difflib.unified_diff(kept, now, n=0, lineterm="") if d[:2] not in
            ("--", "++", "@@")]  # fmt: skip

"""Runs in two groups: by outcome, by a lot, by the revision of their sheet, before and after a day.

Pure; portraits in. The second group is compared with the first. What can't be told apart, as two
lots that changed together, is named together.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from logger.review.compare.compare import EffectRow, effects_between
from logger.review.features.feature import BY_NAME
from logger.review.features.portrait import Portrait
from logger.words.dates import date_text

OUTCOME, LOT, REVISION, DAY = "outcome", "lot", "revision", "day"


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Some of the runs compared, by their ids, and what they have in common, in words."""

    name: str
    runs: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Grouped:
    """Two groups, and how the numbers of the second differ from those of the first."""

    first: Group
    second: Group
    effects: tuple[EffectRow, ...]


def grouped(runs: Sequence[Portrait], by: str) -> Grouped | None:
    """Return the runs in two groups, or None where all belong to one.

    Parameters
    ----------
    runs : sequence of Portrait
        The first is the reference; how it was made stands for the first group.
    by : str
        `OUTCOME`, `LOT` or `REVISION`.
    """
    pair = _BY[by](runs)
    if pair is None or not pair[0].runs or not pair[1].runs:
        return None
    return _compared(runs, pair, by)


def grouped_by_day(runs: Sequence[Portrait], days: Mapping[str, str], day: str) -> Grouped | None:
    """Return the runs before a day and those from it on, or None where all belong to one.

    Parameters
    ----------
    runs : sequence of Portrait
        A run whose day is not known is in neither group.
    days : mapping of str to str
        Day on which each run began, by its id, as an ISO 8601 date.
    day : str
        First day of the second group, as an ISO 8601 date.
    """
    known = [(run.run_id, at) for run in runs if (at := days.get(run.run_id))]
    written = date_text(day)
    before = Group(name=f"before {written}", runs=tuple(i for i, at in known if at < day))
    after = Group(name=f"from {written} on", runs=tuple(i for i, at in known if at >= day))
    return _compared(runs, (before, after), DAY) if before.runs and after.runs else None


def middle_day(days: Sequence[str]) -> str:
    """Return the day that splits runs most evenly, the earlier of two; empty if none does.

    Parameters
    ----------
    days : sequence of str
        Day of each run, as an ISO 8601 date.
    """
    later = sorted(set(days))[1:]
    return min(later, key=lambda day: abs(2 * sum(d < day for d in days) - len(days)), default="")


def _compared(runs: Sequence[Portrait], pair: tuple[Group, Group], by: str) -> Grouped:
    first, second = pair
    parts = [[run for run in runs if run.run_id in group.runs] for group in pair]
    effects = effects_between(parts[0], parts[1], "both were alike")
    if by == OUTCOME:
        effects = [row for row in effects if row.name in BY_NAME]
    return Grouped(first=first, second=second, effects=tuple(effects))


def _by_outcome(runs: Sequence[Portrait]) -> tuple[Group, Group]:
    good, bad = (
        Group(name=name, runs=tuple(run.run_id for run in runs if run.outcome == name))
        for name in ("accepted", "rejected")
    )
    return good, bad


def _by_revision(runs: Sequence[Portrait]) -> tuple[Group, Group]:
    """Group runs of one sheet by whether they have the first's revision."""
    about = runs[0].sheet.sheet
    of_sheet = [run for run in runs if run.sheet.sheet.name == about.name]
    same = [run for run in of_sheet if run.sheet.sheet.revision == about.revision]
    rest = [run for run in of_sheet if run not in same]
    others = sorted({run.sheet.sheet.revision for run in rest})
    return (
        Group(name=f"revision {about.revision}", runs=tuple(run.run_id for run in same)),
        Group(
            name=f"revision {', '.join(map(str, others))}",
            runs=tuple(run.run_id for run in rest),
        ),
    )


def _by_lot(runs: Sequence[Portrait]) -> tuple[Group, Group] | None:
    """Group runs by whether an ingredient has the first's lot: the one that splits them best."""
    found: dict[tuple[tuple[str, ...], tuple[str, ...]], list[tuple[str, str, set[str]]]] = {}
    for name, lot in _lots(runs[0]).items():
        known = {run.run_id: other for run in runs if (other := _lots(run).get(name))}
        same = tuple(run_id for run_id, other in known.items() if other == lot)
        rest = tuple(run_id for run_id, other in known.items() if other != lot)
        if rest:
            others = {known[run_id] for run_id in rest}
            found.setdefault((same, rest), []).append((name, lot, others))
    if not found:
        return None
    (same, rest), lots = max(found.items(), key=lambda item: min(map(len, item[0])))
    return (
        Group(name=", ".join(f"{name} {lot}" for name, lot, _ in lots), runs=same),
        Group(name=", ".join(f"{n} {' or '.join(sorted(o))}" for n, _, o in lots), runs=rest),
    )


def _lots(run: Portrait) -> dict[str, str]:
    return {i.name: i.lot for i in run.sheet.ingredient if i.lot}


_BY: dict[str, Callable[[Sequence[Portrait]], tuple[Group, Group] | None]] = {
    OUTCOME: _by_outcome,
    LOT: _by_lot,
    REVISION: _by_revision,
}

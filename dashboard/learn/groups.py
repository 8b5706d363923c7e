"""Many runs in two groups: by outcome, lot, revision or a day; drawn as chips.

Which run belongs to which comes from ``logger.review.compare.grouping``.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from dash import html

from dashboard.learn import differ
from dashboard.links import Links
from logger.review.compare.compare import EffectRow
from logger.review.compare.effects import LEVEL, smallest_chance
from logger.review.compare.grouping import (
    DAY,
    LOT,
    OUTCOME,
    REVISION,
    Group,
    Grouped,
    grouped,
    grouped_by_day,
)
from logger.review.features.portrait import Portrait
from logger.review.why.explanation import capital
from logger.words.counts import count_text

BY = {OUTCOME: "Outcome", LOT: "Lot", REVISION: "Revision", DAY: "Before and after a day"}
"""What splits many runs into two groups."""
ALL_ALIKE = {
    OUTCOME: "Choose rejected and accepted runs to see how they differ.",
    LOT: "No ingredient of the chosen runs has another lot.",
    REVISION: "The chosen runs have one revision of their sheet.",
    DAY: "All chosen runs began on one day.",
}
_COUNTED = {OUTCOME: "{}", LOT: "with {}", REVISION: "of {}", DAY: "{}"}


class LookedAt(NamedTuple):
    """Effects, and between which runs they are; what is said where the runs are too few."""

    rows: Sequence[EffectRow]
    title: str
    told: str
    between: str
    groups: tuple[Group, ...] = ()
    by: str = OUTCOME
    few: str = ""


def days_of(links: Links, runs: list[Portrait]) -> dict[str, str]:
    """Return the day on which each run began, by its id."""
    entries = {entry.run_id: entry for entry in links.catalog().runs()}
    return {
        run.run_id: entry.started[:10]
        for run in runs
        if (entry := entries.get(run.run_id)) and entry.started
    }


def looked_at(runs: list[Portrait], by: str, days: Mapping[str, str], day: str) -> LookedAt:
    """Return how the two groups differ that are asked for, or else the first two there are.

    Parameters
    ----------
    runs : list of Portrait
        The first is the reference.
    by : str
        What splits them, of `BY`; another text leaves the choice to what the runs have.
    days : dict of str
        Day on which each run began, by its id, as an ISO 8601 date.
    day : str
        First day of the later runs, as an ISO 8601 date.
    """
    said = ALL_ALIKE.get(by, "")

    def split_by(one: str) -> Grouped | None:
        return grouped_by_day(runs, days, day) if one == DAY else grouped(runs, one)

    found = ((one, split_by(one)) for one in ((by,) if said else (REVISION, OUTCOME, LOT)))
    by, split = next((pair for pair in found if pair[1]), (by if said else OUTCOME, None))
    if split is None:
        return LookedAt((), BY[by], said, "", (), by)
    known = [row for row in split.effects if row.effect.p is not None]
    by_chance = round(differ.ALONE * len(known))
    told = (
        f"{count_text(len(known), 'number')} looked at, each by itself: about {by_chance} would "
        "differ by chance alone."
    )
    first, second = split.first, split.second
    title = f"{capital(second.name)} compared with {first.name}"
    between = f"between {second.name} and {first.name}"
    if by == OUTCOME:
        between += " runs"
    elif by == DAY:
        between = f"between runs {first.name} and {second.name}"
    groups = (second, first)
    few = "" if known else _too_few(groups, by)
    return LookedAt(split.effects, title, told, between, groups, by, few)


def _too_few(groups: Sequence[Group], by: str) -> str:
    """Return that runs are too few, with how many there are of each group."""
    sizes = [len(group.runs) for group in groups]
    if smallest_chance(*sizes) <= LEVEL:
        return "Too few batches have the same numbers to tell."
    said = [
        f"{size} {_COUNTED[by].format(group.name)}"
        for size, group in zip(sizes, groups, strict=True)
    ]
    return f"Too few batches to tell: {('; ' if by == LOT else ', ').join(said)}."


def draw_groups(groups: Sequence[Group], ids: Sequence[str]) -> html.Div:
    """Draw two groups as chips that leave a group out, and the way to choose others.

    Parameters
    ----------
    groups : sequence of Group
        The second is what the first is compared with; none where all runs are alike.
    ids : sequence of str
        All runs that are compared.
    """
    chips = [
        html.Button(
            [
                html.Span(f"{count_text(len(group.runs), 'run')}: {group.name}"),
                html.Span(" ✕", **{"aria-hidden": "true"}),
                html.Span(", leave out", className="unseen"),
            ],
            type="button",
            className="group-chip",
            **{"data-keeps": " ".join(run_id for run_id in ids if run_id not in group.runs)},
        )
        for group in groups
    ]
    if len(chips) > 1:
        chips.insert(1, html.Span("compared with", className="soft"))
    change = html.Button(
        "Change groups", type="button", className="show-at", **{"data-chooses": "tog-runs"}
    )
    return html.Div([*chips, change], className="groups", role="group", **{"aria-label": "Groups"})

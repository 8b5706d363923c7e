"""What is drawn of runs compared: the largest difference, traces lined up, numbers, effects.

What differs and what it did comes from ``logger.review.compare``; nothing is computed here.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from dash import dcc, html

from dashboard.graphs import Figure
from dashboard.learn import differ, overlay
from dashboard.learn.goodband import GoodBands, aligned
from dashboard.learn.groups import days_of, draw_groups, looked_at
from dashboard.learn.portraits import MOST_GOOD, Portraits
from dashboard.links import Links
from dashboard.measures import Measures, in_units
from dashboard.points import Points
from dashboard.runs.head import draw_came
from dashboard.runs.told import Told as Spoken
from dashboard.runs.told import draw_told
from dashboard.stores import Choices
from logger.model.bench import ROLE_LABELS, SCALE_ROLES
from logger.review.compare.compare import Comparison, anchor_s, compare
from logger.review.compare.grouping import middle_day
from logger.review.compare.ranked import Difference, ranked
from logger.review.features.portrait import Portrait
from logger.words.counts import count_text
from logger.words.dates import moment_text

AUTO = "auto"
MOST = 40
"""No more runs than this are compared; the first few have their traces drawn."""
EVENTS = ("pour", "bath")
TWO, MANY = "two", "many"
WAYS = {TWO: "Two runs", MANY: "Many runs"}
"""How runs are compared: two by their traces and numbers, many by what their numbers share."""
ANCHORS = {"start": "the start", "pour": "the start of the pour", "bath": "the first piece in"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is compared: runs, the first the reference; which way, of `WAYS`; what splits them, of
    `BY`, and the first day of the later ones; event and trace, or `AUTO`; the band."""

    ids: tuple[str, ...]
    way: str = MANY
    by: str = AUTO
    day: str = ""
    anchor: str = AUTO
    role: str = AUTO
    good: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What the page answers: figure, headline, sentence, the runs, traces in words, tables, the
    runs that are compared, what splits them, of `BY`, where there are many, the days that can
    split them, and the one that does."""

    figure: Figure
    head: str
    says: str
    which: Any
    words: list[Any]
    tables: list[Any]
    compared: tuple[str, ...] = ()
    by: str = ""
    days: tuple[str, ...] = ()
    day: str = ""


def draw(
    links: Links, portraits: Portraits, bands: GoodBands, asked: Asked, choices: Choices
) -> Answer:
    """Return what is drawn of a comparison.

    Parameters
    ----------
    links : Links
        The way to the run files.
    portraits : Portraits
        Numbers of the finished runs.
    bands : GoodBands
        Bands of good runs.
    asked : Asked
        What is compared.
    choices : Choices
        What the person chose to see.
    """
    measures = choices.measures
    ids = asked.ids[: 2 if asked.way == TWO else MOST]
    taken = {run_id: portraits.readable(run_id) for run_id in ids}
    runs = [run for run in taken.values() if run is not None]
    without = [run_id for run_id, run in taken.items() if run is None]
    good = _good(links, portraits, runs)
    found = compare(runs) if len(runs) > 1 else None
    differences = ranked(found.rows, good) if found is not None else ()
    role, anchor = _best(links, runs, differences, asked)
    names = names_of(links, [run.run_id for run in runs])
    lines, missing = [], []
    for run in runs[: overlay.MOST]:
        points = traced(links, run, role, anchor)
        if points is None:
            missing.append(names[run.run_id])
        else:
            lines.append(overlay.Line(names[run.run_id], points))
    band = None
    if asked.good and runs:
        band = bands.of(tuple(run.run_id for run in good), role, anchor)
    unit = "g" if role in SCALE_ROLES else "degC"
    label = ROLE_LABELS.get(role, role)
    made = overlay.figure(lines, band, role, label, unit, choices.theme, measures)
    made["layout"]["xaxis"]["title"]["text"] = f"minutes from {ANCHORS[anchor]}"
    words = draw_told(
        [Spoken(line.name, line.points, unit) for line in lines],
        measures,
        title=f"{label}, time from {ANCHORS[anchor]}",
    )
    said = _says(runs, without, missing, anchor)
    if len(asked.ids) > len(ids):
        said = f"{said} The first {len(ids)} of {len(asked.ids)} chosen runs are compared.".strip()
    if found is None:
        return Answer(figure=made, head="Compare", says=said, which=None, words=words, tables=[])
    many = asked.way == MANY and len(runs) > 2
    days = days_of(links, runs) if many else {}
    can_split = tuple(sorted(set(days.values()))[1:])
    day = asked.day if asked.day in can_split else middle_day(list(days.values()))
    looked = looked_at(runs, asked.by if many else AUTO, days, day)
    numbers = differ.draw_differences(differences, runs, measures)
    head = differ.headline(differences, runs, measures)
    if many and looked.groups:
        head = looked.few or differ.effects_headline(looked.rows, looked.between)
    said_above = many and looked.few
    told = looked.few or looked.told
    effects = [] if said_above else differ.draw_effects(looked.rows, looked.title, told)
    effects = in_units(effects, measures)
    which = _which(links, runs)
    return Answer(
        figure=made,
        head=head,
        says=f"{measures.said(found.says)} {said}".strip(),
        which=[draw_groups(looked.groups, ids), _folded(which, len(runs))] if many else which,
        words=words,
        tables=[
            *([*effects, *numbers] if many else [*numbers, *effects]),
            html.Details(
                [
                    html.Summary("Sheets, lots and all numbers"),
                    *draw_tables(found, measures, names),
                ],
                className="more-of",
            ),
        ],
        compared=tuple(run.run_id for run in runs),
        by=looked.by if many else "",
        days=can_split,
        day=day,
    )


def _folded(which: html.Ol, count: int) -> html.Details:
    return html.Details([html.Summary(count_text(count, "run")), which], className="more-of")


def _good(links: Links, portraits: Portraits, runs: list[Portrait]) -> list[Portrait]:
    """Return the latest good runs of the product of the first."""
    if not runs:
        return []
    entries = links.catalog().runs(product=runs[0].product, outcome="accepted")[:MOST_GOOD]
    found = [portraits.readable(entry.run_id) for entry in entries]
    return [run for run in found if run is not None]


def _best(
    links: Links, runs: list[Portrait], differences: Sequence[Difference], asked: Asked
) -> tuple[str, str]:
    """Return the trace and the event that are asked for, or that show the largest difference."""
    role, anchor = asked.role, asked.anchor
    span = next(
        (
            feature.span
            for one in differences
            if (feature := runs[0].features[one.row.name]).span.channel is not None
        ),
        None,
    )
    if role == AUTO:
        role = "fat"
        if span is not None and span.channel is not None:
            with links.open_run(runs[0].run_id) as view:
                channels = {c.id: c.role for c in view.bench().channel}
            role = channels.get(span.channel, role)
    if anchor == AUTO:
        events = {e: at_s for e in EVENTS if runs and (at_s := anchor_s(runs[0], e)) is not None}
        at_s = span.from_s if span is not None else None
        anchor = "start"
        if at_s is not None and events:
            anchor = min(events, key=lambda event: abs(events[event] - at_s))
    return role, anchor


def _which(links: Links, runs: list[Portrait]) -> html.Ol:
    entries = {entry.run_id: entry for entry in links.catalog().runs()}
    return html.Ol(
        [
            html.Li(
                [
                    html.Strong(differ.letter(place)),
                    dcc.Link(moment_text(entry.started), href=f"/runs/{run.run_id}"),
                    draw_came(entry),
                    html.Span("reference", className="soft") if place == 0 else None,
                ]
            )
            for place, run in enumerate(runs)
            for entry in [entries.get(run.run_id)]
            if entry is not None
        ],
        className="which-runs",
    )


def names_of(links: Links, ids: list[str]) -> dict[str, str]:
    """Return a short name of each chosen run: its letter, when it began, how it came out."""
    entries = {entry.run_id: entry for entry in links.catalog().runs()} if ids else {}
    return {
        run_id: f"{differ.letter(place)}: {moment_text(entry.started)}, "
        f"{entry.outcome or 'not judged yet'}"
        for place, run_id in enumerate(ids)
        for entry in [entries.get(run_id)]
        if entry is not None
    }


def traced(links: Links, run: Portrait, role: str, anchor: str) -> Points | None:
    """Return a run's trace with time from the anchor on; None without anchor or channel.

    Parameters
    ----------
    links : Links
        The way to the run files.
    run : Portrait
        The run.
    role : str
        Role of the channel.
    anchor : str
        A key of `ANCHORS`.
    """
    from_s = anchor_s(run, anchor)
    return None if from_s is None else aligned(links, run.run_id, role, from_s)


def _says(runs: list[Portrait], without: list[str], missing: list[str], anchor: str) -> str:
    said = []
    if not runs:
        said.append("Choose two or more finished runs.")
    elif len(runs) == 1:
        said.append("Choose one more run to see what differs.")
    if without:
        said.append(f"Not ended, so not compared: {', '.join(without)}.")
    if missing:
        said.append(f"No such trace, or never {ANCHORS[anchor]}: {', '.join(missing)}.")
    return " ".join(said)


def draw_tables(
    found: Comparison, measures: Measures, names: dict[str, str] | None = None
) -> list[Any]:
    """Draw what differs in the sheets, what the change did, and all numbers.

    Parameters
    ----------
    found : Comparison
        Of the chosen runs.
    measures : Measures
        How numbers are written.
    names : dict or None
        What each run is called in the tables; its id where it is not among them.
    """
    called = {run_id: (names or {}).get(run_id, run_id) for run_id in found.runs}
    heads = ["Number", *called.values()]
    changes = [
        [
            change.where,
            *map(measures.said, (change.before or "–", change.after or "–")),
            called[run],
        ]
        for run, changed in zip(found.runs[1:], found.changes, strict=True)
        for change in changed
    ]
    swaps = [
        [swap.group, swap.before, swap.after, called[run]]
        for run, swapped in zip(found.runs[1:], found.swaps, strict=True)
        for swap in swapped
    ]
    rows = [
        [
            f"{row.label} ({measures.unit(row.unit)})" if row.unit != "s" else row.label,
            *(_value(v, u, row.unit, measures) for v, u in zip(row.values, row.us, strict=True)),
        ]
        for row in found.rows
    ]
    return [
        _table("Another fat, salt or lot", ["What", "First", "Then", "Run"], swaps),
        _table("Targets that differ", ["What", "First", "Then", "Run"], changes),
        _table("Numbers of each run", heads, rows),
    ]


def _value(value: float | None, u: float | None, unit: str, measures: Measures) -> str:
    expanded = None if u is None else 2.0 * u
    spread = measures.spread(expanded, unit) if value is not None else ""
    return f"{measures.text(value, unit, expanded)} {spread}".strip()


def _table(title: str, heads: list[str], rows: list[list[str]]) -> Any:
    if not rows:
        return None
    return html.Table(
        className="plain-table",
        children=[
            html.Caption(title),
            html.Thead(html.Tr([html.Th(head, scope="col") for head in heads])),
            html.Tbody([html.Tr([html.Td(cell) for cell in row]) for row in rows]),
        ],
    )

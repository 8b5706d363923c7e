"""The list of runs: search, chips, filters; dense lines by product or by day, a hundred a page.

Reads the catalog at each question; the catalog works out again only what changed.
"""

import datetime
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, dcc, html

from dashboard.learn import control
from dashboard.learn.comparing import MOST as MOST_COMPARED
from dashboard.learn.together import address
from dashboard.links import Links
from dashboard.palette import Theme
from dashboard.runs.card import changes, draw_card
from dashboard.stores import Choices
from logger.store.folder.entries import RunEntry
from logger.words.counts import count_text
from logger.words.dates import date_text, day_text

MOST = 100
"""So many lines are on a page."""
MOST_DEFECTS = 6
"""So many defects have a chip; all are among the filters."""
FILTERS = ("sheet", "revision", "fat", "lot", "outcome", "defect", "status")
ALL = "all"
SAID = {"accepted": "Accepted", "rejected": "Rejected", "": "Not judged yet"}
"""How a run came out, as a chip says it."""
GROUPS = {"product": "By product", "day": "By day"}
NONE = "No runs yet. Start a batch at the bench, or try the virtual bench with: bainlog demo"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is asked of the list.

    Attributes
    ----------
    text : str
        Words that a run must hold.
    filters : mapping
        What the filters are set to, by name.
    since, until : str or None
        First and last day as ISO dates; None is open.
    chip : str
        The chip that is pressed.
    by : str
        A key of `GROUPS`.
    page : int
        From 1.
    """

    text: str = ""
    filters: Mapping[str, str | None] = field(default_factory=dict)
    since: str | None = None
    until: str | None = None
    chip: str = ALL
    by: str = "product"
    page: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """What the list answers.

    Attributes
    ----------
    groups : list
        The lines, under the heading of their group.
    says : str
        How many there are.
    chips : list
        How many there are of each sort, to press.
    options : list of list of dict of str
        What each of `FILTERS` can be set to.
    pages : int
        How many pages there are.
    count : int
        How many runs fit.
    """

    groups: list[Any]
    says: str
    chips: list[Any]
    options: list[list[dict[str, str]]]
    pages: int
    count: int


def layout() -> html.Div:
    """Return the page without data."""
    return html.Div(
        className="plain-page wide runs-page",
        children=[
            html.Div(
                [
                    html.H1(["Runs", html.Span(id="runs-count", className="aside", role="status")]),
                    dmc.TextInput(
                        id="runs-text",
                        size="md",
                        className="runs-find",
                        placeholder="Find sheet, lot, note, defect…",
                        attributes={"input": {"aria-label": "Search"}},
                    ),
                    dmc.SegmentedControl(
                        id="runs-by",
                        value="product",
                        data=[{"value": k, "label": v} for k, v in GROUPS.items()],
                        className="segments",
                        attributes={"root": {"aria-label": "Grouped"}},
                    ),
                    dcc.Link(go_words([]), href="/compare", id="runs-go", className="key small"),
                ],
                className="runs-top",
            ),
            dmc.ChipGroup(
                html.Div(id="runs-chips", className="chips-row"), id="runs-chip", value=ALL
            ),
            _more_filters(),
            control.layout(),
            dmc.CheckboxGroup(
                id="runs-picked",
                value=[],
                children=html.Div(id="runs-list", className="run-list works"),
                wrapperProps={"aria-label": "Runs to compare"},
            ),
            dmc.Pagination(
                id="runs-page",
                total=1,
                value=1,
                withControls=False,
                hideWithOnePage=True,
                className="runs-pages",
            ),
        ],
    )


def _more_filters() -> html.Details:
    chosen = [
        dmc.Select(
            id=f"runs-{name}",
            label=name.capitalize(),
            data=[],
            clearable=True,
            searchable=True,
            size="md",
            className="filter",
        )
        for name in FILTERS
    ]
    days = [
        dmc.DateInput(
            id=f"runs-{name}",
            label=label,
            size="md",
            clearable=True,
            valueFormat="YYYY-MM-DD",
            className="filter",
        )
        for name, label in (("since", "From day"), ("until", "To day"))
    ]
    return html.Details(
        [
            html.Summary("More filters"),
            html.Div(
                [*chosen, *days], className="filters", role="group", **{"aria-label": "Filters"}
            ),
        ],
        className="more-of",
    )


def register(app: Dash, links: Links) -> None:
    """Attach the page's callbacks to an app."""
    control.register(app, links)

    @app.callback(
        Output("runs-list", "children"),
        Output("runs-count", "children"),
        Output("runs-chips", "children"),
        Output("runs-page", "total"),
        *(Output(f"runs-{name}", "data") for name in FILTERS),
        Input("runs-text", "value"),
        *(Input(f"runs-{name}", "value") for name in FILTERS),
        Input("runs-since", "value"),
        Input("runs-until", "value"),
        Input("runs-chip", "value"),
        Input("runs-by", "value"),
        Input("runs-page", "value"),
        Input("choices", "data"),
    )
    def _list(text: str | None, *rest: Any) -> Any:
        *filters, since, until, chip, by, page, choices = rest
        asked = Asked(
            text=text or "",
            filters=dict(zip(FILTERS, filters, strict=True)),
            since=since,
            until=until,
            chip=str(chip or ALL),
            by="day" if by == "day" else "product",
            page=page if isinstance(page, int) else 1,
        )
        found = list_runs(links, asked, Choices.of(choices).theme)
        return found.groups, found.says, found.chips, found.pages, *found.options

    @app.callback(
        Output("picked", "data"),
        Output("runs-go", "children"),
        Output("runs-go", "href"),
        Input("runs-picked", "value"),
        prevent_initial_call=True,
    )
    def _pick(picked: Any) -> Any:
        ids = list(picked or [])
        return ids, go_words(ids), address(ids) if ids else "/compare"


def go_words(ids: list[str]) -> str:
    """Return what the way to the page that compares is called."""
    if not ids:
        return "Compare: pick runs below"
    if len(ids) > MOST_COMPARED:
        return f"Compare the first {MOST_COMPARED} of {len(ids)} picked runs"
    return f"Compare {len(ids)} picked run{'s' if len(ids) > 1 else ''}"


def list_runs(links: Links, asked: Asked, theme: Theme) -> Listed:
    """Return the lines that are asked for, how many there are, and what can be asked.

    Parameters
    ----------
    links : Links
        The way to the catalog.
    asked : Asked
        What is asked.
    theme : str
        ``dark`` or ``light``.
    """
    everything = links.catalog().runs()
    found = [entry for entry in _filtered(links, everything, asked) if _fits(entry, asked.chip)]
    pages = max(1, -(-len(found) // MOST))
    page = min(max(asked.page, 1), pages)
    shown = found[(page - 1) * MOST : page * MOST]
    says = count_text(len(everything), "run")
    if len(found) < len(everything):
        says = f"{len(found)} of {says}"
    if pages > 1:
        says += f", page {page} of {pages}"
    return Listed(
        groups=_groups(shown, found, _changes(everything), asked.by, theme)
        if everything
        else [html.P(NONE, className="lead")],
        says=says if everything else "none yet",
        chips=_chips(everything),
        options=[_options(everything, name) for name in FILTERS],
        pages=pages,
        count=len(found),
    )


def _filtered(links: Links, everything: list[RunEntry], asked: Asked) -> list[RunEntry]:
    wanted: dict[str, str | int] = {name: value for name, value in asked.filters.items() if value}
    if "revision" in wanted:
        wanted["revision"] = int(wanted["revision"])
    since, until = _day_ns(asked.since), _day_ns(asked.until, end=True)
    if not wanted and not asked.text.strip() and since is None and until is None:
        return everything
    return links.catalog().runs(text=asked.text, since_utc_ns=since, until_utc_ns=until, **wanted)


def _fits(entry: RunEntry, chip: str) -> bool:
    sort, _, of = chip.partition(":")
    if sort == "came":
        return (entry.outcome or "") == of
    return of in entry.defects if sort == "defect" else True


def _chips(entries: Sequence[RunEntry]) -> list[Any]:
    came = Counter(entry.outcome or "" for entry in entries)
    defects = Counter(defect for entry in entries for defect in entry.defects)
    named = [
        (ALL, f"All {len(entries)}"),
        *((f"came:{key}", f"{word} {came[key]}") for key, word in SAID.items()),
        *((f"defect:{name}", f"{name} {n}") for name, n in defects.most_common(MOST_DEFECTS)),
    ]
    return [dmc.Chip(label, value=value, size="md", className="pick") for value, label in named]


def _changes(everything: Sequence[RunEntry]) -> dict[str, str]:
    """Return what is new in each run since the one before of its product."""
    found: dict[str, str] = {}
    before: dict[str, RunEntry] = {}
    for entry in reversed(everything):
        found[entry.run_id] = changes(entry, before.get(entry.product))
        before[entry.product] = entry
    return found


def _groups(
    shown: Sequence[RunEntry],
    found: Sequence[RunEntry],
    changed: Mapping[str, str],
    by: str,
    theme: Theme,
) -> list[Any]:
    """Draw the lines of a page under the headings of their groups."""
    keys: dict[str, list[RunEntry]] = {}
    for entry in shown:
        keys.setdefault(_group_of(entry, by), []).append(entry)
    return [
        html.Section(
            [
                html.H2(
                    [_heading(rows[0], by), html.Span(_sums(key, found, by), className="aside")]
                ),
                html.Ul([draw_card(row, theme, changed.get(row.run_id, "")) for row in rows]),
            ],
            className="run-group",
        )
        for key, rows in keys.items()
    ]


def _group_of(entry: RunEntry, by: str) -> str:
    return entry.started[:10] if by == "day" else entry.product or entry.run_id


def _heading(entry: RunEntry, by: str) -> str:
    if by == "day":
        return (
            f"{day_text(entry.started)} {date_text(entry.started)[-4:]}" if entry.started else "–"
        )
    return entry.product or "Cannot be read"


def _sums(key: str, found: Sequence[RunEntry], by: str) -> str:
    rows = [entry for entry in found if _group_of(entry, by) == key]
    came = Counter(entry.outcome or "" for entry in rows)
    said = [f"{came[k]} {word.lower()}" for k, word in SAID.items() if came[k]]
    return " · ".join([count_text(len(rows), "run"), *said])


def _options(entries: Sequence[RunEntry], name: str) -> list[dict[str, str]]:
    found: set[str] = set()
    for entry in entries:
        value = {
            "fat": entry.fats,
            "lot": entry.lots,
            "defect": entry.defects,
        }.get(name, getattr(entry, name, None))
        found |= set(value) if isinstance(value, tuple) else {str(value)} if value else set()
    return [{"value": one, "label": _shown(one, name)} for one in sorted(found)]


def _shown(value: str, name: str) -> str:
    """Return a value as a person reads it; a fat is stored by its key."""
    return value.replace("_", " ") if name == "fat" else value


def _day_ns(day: str | None, *, end: bool = False) -> int | None:
    """Return the start (or end) of a day of this machine's zone [ns since 1970], or None."""
    try:
        found = datetime.date.fromisoformat(day or "")
    except ValueError:
        return None
    moment = datetime.datetime.combine(found, datetime.time.max if end else datetime.time.min)
    return int(moment.timestamp()) * 1_000_000_000

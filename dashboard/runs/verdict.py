"""What a run came to, from its findings: one sentence, how many checks of each verdict, the worst.

Pure: findings in, records and components out. A check of which the sheet sets no limit is counted
for information; a sentence never claims more than the findings.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from dash import html

from dashboard.live.sentence import symbol
from dashboard.measures import Measures
from dashboard.runs.bars import draw_place
from logger.model.finding import Finding
from logger.words.counts import count_text
from logger.words.durations import clock
from logger.words.values import with_unit

MOST_SHOWN = 4
"""No more checks than this at the head of the page; the others are in their stages."""
STANDINGS = {
    "not met": ("stop", "not met"),
    "too close": ("warn", "too close to call"),
    "met": ("good", "met"),
    "not measured": ("none", "not measured"),
    "for information": ("none", "for information"),
}
"""Look and word of how checks stand, worst first."""


def standing(found: Finding) -> str:
    """Return how a check stands: a key of `STANDINGS`."""
    if found.verdict == "not measured":
        return "not measured"
    if found.low is None and found.high is None:
        return "for information"
    return "too close" if found.verdict == "undecided" else str(found.verdict)


def counted(findings: Sequence[Finding]) -> dict[str, int]:
    """Return how many checks stand each way, worst first; those of none are left out."""
    stand = [standing(found) for found in findings]
    return {name: stand.count(name) for name in STANDINGS if name in stand}


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """One check as it stands, of one thing or of several pieces.

    Attributes
    ----------
    findings : tuple of Finding
        Those that stand so, of the same check and stage.
    among : int
        How many pieces were judged by the check.
    """

    findings: tuple[Finding, ...]
    among: int

    @property
    def first(self) -> Finding:
        """The first of them."""
        return self.findings[0]

    @property
    def label(self) -> str:
        """What the check is called, with the pieces it is about."""
        name = self.first.check[:1].upper() + self.first.check[1:]
        if self.first.piece is None:
            return name
        if len(self.findings) == 1:
            return f"{name}, piece {self.first.piece}"
        return f"{name}, {len(self.findings)} of {self.among} pieces"

    @property
    def from_s(self) -> float | None:
        """When the first of them is on the trace [s]."""
        return min((f.from_s for f in self.findings if f.from_s is not None), default=None)

    @property
    def to_s(self) -> float | None:
        """When the last of them is on the trace [s]."""
        return max((f.to_s for f in self.findings if f.to_s is not None), default=None)

    def value_text(self, measures: Measures) -> str:
        """Write the value, or the smallest and the largest."""
        first = self.first
        values = [f.value for f in self.findings if f.value is not None]
        if not values or len(self.findings) == 1:
            return measures.plain(first.value, first.unit, first.expanded_uncertainty)
        low, high = (
            measures.text(v, first.unit, first.expanded_uncertainty)
            for v in (min(values), max(values))
        )
        whole = measures.plain(max(values), first.unit, first.expanded_uncertainty)
        return whole if low == high else f"{low} to {whole}"

    def spread_text(self, measures: Measures) -> str:
        """Write the largest uncertainty; empty where none is known."""
        spreads = [f.expanded_uncertainty for f in self.findings if f.expanded_uncertainty]
        unit = self.first.unit
        spread = measures.spread(max(spreads), unit) if spreads else ""
        shown = measures.unit("K" if unit == "degC" else unit)
        return spread if not spread or unit == "s" else with_unit(spread, shown)

    def target_text(self, measures: Measures) -> str:
        """Write the target."""
        return measures.band(self.first.low, self.first.high, self.first.unit)


def groups(findings: Sequence[Finding], stands: str) -> list[Group]:
    """Return the checks that stand one way, pieces of one check together, in their order."""
    found: dict[tuple[str, str, str, bool], list[Finding]] = {}
    among: dict[tuple[str, str, str, bool], int] = {}
    for one in findings:
        key = (one.stage, one.key, one.subject, one.piece is not None)
        if standing(one) != "not measured":
            among[key] = among.get(key, 0) + 1
        if standing(one) == stands:
            found.setdefault(key, []).append(one)
    return [Group(findings=tuple(f), among=among.get(k, len(f))) for k, f in found.items()]


def headline(findings: Sequence[Finding], measures: Measures) -> str:
    """Return what a run came to, in one sentence."""
    count = counted(findings)
    missed = groups(findings, "not met")
    if missed:
        return _missed(missed[0], measures)
    if not count:
        return "Nothing was judged in this run."
    others = [
        f"{count[name]} {STANDINGS[name][1]}"
        for name in ("too close", "not measured")
        if name in count
    ]
    if not count.get("met"):
        return f"No check could be called met: {', '.join(others) or 'no target was set'}."
    return f"Nothing missed: {', '.join([count_text(count['met'], 'check') + ' met', *others])}."


def _missed(group: Group, measures: Measures) -> str:
    worst = _farthest(group)
    low, value = worst.low, worst.value
    below = value is not None and low is not None and value < low
    ways = ("too short", "too long") if worst.unit == "s" else ("too low", "too high")
    way = ways[0] if below else ways[1]
    if value is None:
        return f"{group.label}: not met."
    found, target = group.value_text(measures), group.target_text(measures)
    return f"{group.label} {way}: {found}, target {target}."


def _farthest(group: Group) -> Finding:
    def beyond(found: Finding) -> float:
        if found.value is None:
            return 0.0
        low = 0.0 if found.low is None else found.low - found.value
        return max(low, 0.0 if found.high is None else found.value - found.high)

    return max(group.findings, key=beyond)


def close_words(findings: Sequence[Finding], measures: Measures) -> str:
    """Say which checks are too close to call; empty for none."""
    said = [
        f"{g.label}: {g.value_text(measures)}, {g.spread_text(measures) or 'uncertainty unknown'}, "
        f"target {g.target_text(measures)}."
        for g in groups(findings, "too close")[:2]
    ]
    return f"Too close to call: {' '.join(said)}" if said else ""


def draw_counts(findings: Sequence[Finding], stages: int) -> html.Div:
    """Draw how many checks of each verdict there are, as a bar and in words.

    Parameters
    ----------
    findings : sequence of Finding
        Of the run.
    stages : int
        How many stages it has.
    """
    count = counted(findings)
    shown = ("not met", "too close", "met")
    bar = [
        html.Span(className=f"share look-{STANDINGS[name][0]}", style={"flexGrow": count[name]})
        for name in shown
        if name in count
    ]
    words = [
        html.Li([symbol(look), html.Span(f"{count[name]} {word}")], className=f"look-{look}")
        for name, (look, word) in STANDINGS.items()
        if name in count
    ]
    whole = f"{count_text(len(findings), 'check')}, {count_text(stages, 'stage')}"
    return html.Div(
        [
            html.Div(bar, className="shares", **{"aria-hidden": "true"}) if bar else None,
            html.Ul([*words, html.Li(whole, className="soft")], className="counts"),
        ]
    )


def draw_missed(findings: Sequence[Finding], measures: Measures) -> html.Div | None:
    """Draw the checks that were not met, each with its place on the trace; None for none."""
    found = groups(findings, "not met")
    if not found:
        return None
    left = len(found) - MOST_SHOWN
    more = None
    if left > 0:
        more = html.P(html.A(f"{left} more not met", href="#run-findings"), className="fl-more")
    return html.Div(
        [html.Ul([_row(g, measures) for g in found[:MOST_SHOWN]], className="fls"), more]
    )


def _row(group: Group, measures: Measures) -> html.Li:
    first = group.first
    values = [f.value for f in group.findings if f.value is not None]
    return html.Li(
        [
            html.Div(
                [
                    html.P(group.label, className="fl-name"),
                    html.P(
                        [f"target {group.target_text(measures)}", *place_of(group)],
                        className="soft fl-target",
                    ),
                ]
            ),
            draw_place(values, first.low, first.high, look="stop"),
            html.P(
                [
                    html.Span(group.value_text(measures), className="fl-value"),
                    html.Span(group.spread_text(measures), className="soft"),
                ],
                className="fl-found",
            ),
        ],
        className="fl bad",
    )


def place_of(group: Group) -> list[Any]:
    """Return the button that shows a check on the trace; nothing where it has no place there."""
    if group.from_s is None:
        return []
    to_s = group.to_s if group.to_s is not None else group.from_s
    return [
        " · ",
        html.Button(
            f"show at {clock(group.from_s)}",
            type="button",
            className="show-at",
            **{
                "data-from": f"{group.from_s:.3f}",
                "data-to": f"{to_s:.3f}",
                "aria-label": f"Show {group.label} on the traces, at {clock(group.from_s)}",
            },
        ),
    ]

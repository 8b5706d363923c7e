"""Values against their target, drawn in place: dots on a band, and times of pieces as bars.

Pure: numbers in, components out. The words beside a picture say the same; the picture itself is
hidden from a screen reader.
"""

from collections.abc import Sequence
from typing import Any

from dash import html

from dashboard.live.sentence import symbol
from dashboard.measures import Measures
from logger.model.finding import Finding, Results
from logger.model.rows import ImmersionRow, PieceRow
from logger.words.durations import clock, clock_or_between
from logger.words.verdicts import verdict_text

ROOM = 0.12
"""Left free at both ends of a picture, share of its width."""
DWELL = "set.dwell_s"


def draw_place(
    values: Sequence[float],
    low: float | None,
    high: float | None,
    *,
    look: str = "stop",
    looks: Sequence[str] = (),
    among: Sequence[float] = (),
    sort: str = "target",
) -> html.Div:
    """Draw where values lie against a target.

    Parameters
    ----------
    values : sequence of float
        The values in question [one unit].
    low, high : float or None
        The target [same unit]; None for an end that is open.
    look : str
        How they stand.
    looks : sequence of str
        The same for each, where they differ.
    sort : str
        ``target``, or ``good`` where the band is that of the good runs.
    among : sequence of float
        Values of others, such as good runs [same unit].
    """
    given = [*values, *among, *(end for end in (low, high) if end is not None)]
    if not given:
        return html.Div(className="place-of")
    left, right = min(given), max(given)
    width = (right - left) or 1.0
    left, right = left - ROOM * width, right + ROOM * width

    def at(value: float) -> float:
        return round(100.0 * (value - left) / (right - left), 2)

    parts: list[Any] = []
    if low is not None or high is not None:
        start = 0.0 if low is None else at(low)
        end = 100.0 if high is None else at(high)
        ends = " ".join(["low"] * (low is not None) + ["high"] * (high is not None))
        parts.append(
            html.Span(
                className=f"place-band {ends} of-{sort}",
                style={"left": f"{start}%", "width": f"{round(end - start, 2)}%"},
            )
        )
    parts += [html.Span(className="place-other", style={"left": f"{at(v)}%"}) for v in among]
    parts += [
        html.Span(className=f"place-dot look-{one}", style={"left": f"{at(v)}%"})
        for v, one in zip(values, looks or [look] * len(values), strict=True)
    ]
    return html.Div(parts, className="place-of", **{"aria-hidden": "true"})


def draw_effect(shift: float, low: float | None, high: float | None) -> html.Div:
    """Draw a difference as a point with its interval, about the line of no difference.

    Parameters
    ----------
    shift : float
        The difference [one unit].
    low, high : float or None
        Its interval [same unit].
    """
    reach = 1.1 * max(abs(end) for end in (shift, low, high) if end is not None) or 1.0

    def at(value: float) -> float:
        return round(50.0 + 50.0 * value / reach, 2)

    parts = [html.Span(className="effect-none")]
    if low is not None and high is not None:
        parts.append(
            html.Span(
                className="effect-line",
                style={"left": f"{at(low)}%", "width": f"{round(at(high) - at(low), 2)}%"},
            )
        )
    parts.append(html.Span(className="place-dot look-ring", style={"left": f"{at(shift)}%"}))
    return html.Div(parts, className="place-of effect-of", **{"aria-hidden": "true"})


def draw_pieces(results: Results, measures: Measures) -> html.Section | None:
    """Draw how long each piece was in the bath against its target, and its coat.

    Parameters
    ----------
    results : Results
        Of the run.
    measures : Measures
        How numbers are written.
    """
    rows = results.immersions
    if not rows:
        return None
    judged = {f.piece: f for f in results.findings if f.key == DWELL and f.piece is not None}
    coats = {p.piece: p for p in results.pieces}
    highs = [f.high for f in judged.values() if f.high is not None]
    lows = [f.low for f in judged.values() if f.low is not None]
    dwells = [row.dwell_s for row in rows if row.dwell_s is not None]
    end_s = 1.08 * max([*highs, *lows, *dwells], default=1.0)
    first = next(iter(judged.values()), None)
    target = measures.band(first.low, first.high, "s") if first is not None else ""
    return html.Section(
        [
            html.H2(
                [
                    "Pieces in the bath",
                    html.Span(f"target {target}" if target else "", className="aside"),
                ]
            ),
            html.Ol(
                [
                    _piece(row, judged.get(row.piece), coats.get(row.piece or 0), end_s, measures)
                    for row in rows
                ],
                className="piece-bars" + (" many" if len(rows) > 12 else ""),
            ),
        ]
    )


def _piece(
    row: ImmersionRow,
    found: Finding | None,
    coat: PieceRow | None,
    end_s: float,
    measures: Measures,
) -> html.Li:
    verdict = found.verdict if found is not None else row.verdict
    look, word = {
        "not met": ("stop", "not met"),
        "undecided": ("warn", "too close to call"),
    }.get(verdict, ("", ""))
    if row.inside:
        word = "still in"
    elif verdict == "not measured":
        look, word = "none", verdict_text(verdict)
    others = f" or {', '.join(clock(c) for c in row.candidates)}" if row.candidates else ""
    dwell = clock_or_between(row.dwell_s, row.dwell_between_s)
    thick = coat.coat_mm if coat is not None else None
    return html.Li(
        [
            html.Span(str(row.piece or "?"), className="piece-number"),
            html.Div(
                _bar(row, found, end_s, look), className="piece-bar", **{"aria-hidden": "true"}
            ),
            html.Span(f"{dwell}{others}", className="piece-time"),
            html.Span(
                [symbol(look) if look else None, html.Span(word)] if word else None,
                className=f"piece-word look-{look or 'none'}",
            ),
            html.Span(
                measures.value(thick, "mm") if thick is not None else "", className="piece-coat"
            ),
        ]
    )


def _bar(row: ImmersionRow, found: Finding | None, end_s: float, look: str) -> list[Any]:
    parts: list[Any] = []
    if found is not None and (found.low is not None or found.high is not None):
        low, high = found.low or 0.0, end_s if found.high is None else found.high
        parts.append(
            html.Span(
                className="piece-target",
                style={
                    "left": f"{100.0 * low / end_s:.2f}%",
                    "width": f"{100.0 * (high - low) / end_s:.2f}%",
                },
            )
        )
    dwell_s = row.dwell_s or 0.0
    parts.append(
        html.Span(
            className=f"piece-fill look-{look or 'good'}",
            style={"width": f"{100.0 * dwell_s / end_s:.2f}%"},
        )
    )
    return parts

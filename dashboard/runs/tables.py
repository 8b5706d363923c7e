"""Findings, dwells, pours, alarms, gaps and notes of a run as tables.

Pure: the run's results in, components out. Verdicts are words with a symbol; a check that could
not be made reads so.
"""

from typing import Any

from dash import html

from dashboard.live.numbers import VERDICTS
from dashboard.live.sentence import symbol
from dashboard.measures import Measures
from logger.words.digits import DASH
from logger.words.durations import clock, duration_text
from logger.words.values import percent_text
from logger.words.verdicts import verdict_text

MOST_ROWS = 60
"""No more rows than this in one table: a browser draws thousands too slowly."""
MOST_GAPS = 15
"""The longest gaps that are listed; the others are counted."""


def draw_findings(findings: list[Any], stages: list[dict[str, Any]], measures: Measures) -> Any:
    """Draw one table a stage, in the order of the stages."""
    if not findings:
        return html.P("Nothing was judged in this run.", className="soft")
    order = [stage["id"] for stage in stages]
    ids = sorted({f.stage for f in findings}, key=lambda i: order.index(i) if i in order else 99)
    titles = {stage["id"]: stage.get("title") or stage["id"] for stage in stages}
    return [
        _table(
            titles.get(stage, stage or "Whole run"),
            ["Check", "Verdict", "Found", "Should be", "Evidence"],
            [_finding(f, measures) for f in findings if f.stage == stage],
        )
        for stage in ids
    ]


def _finding(found: Any, measures: Measures) -> list[Any]:
    look, _ = VERDICTS.get(found.verdict, ("none", ""))
    verdict = verdict_text(
        found.verdict,
        has_target=found.low is not None or found.high is not None,
        u_known=found.value is None or found.expanded_uncertainty is not None,
    )
    name = found.check if found.piece is None else f"{found.check}, piece {found.piece}"
    return [
        name,
        html.Span([symbol(look), html.Span(verdict)], className=f"verdict look-{look}"),
        measures.value(found.value, found.unit, found.expanded_uncertainty),
        measures.band(found.low, found.high, found.unit) or DASH,
        found.evidence,
    ]


def draw_dwells(immersions: list[dict[str, Any]]) -> Any:
    """Draw each piece's time in the bath."""
    return _table(
        "In the bath",
        ["Piece", "In", "Out", "Dwell", "Set", "Verdict"],
        [
            [
                row.get("piece") or "?",
                clock(row.get("in_s")),
                clock(row.get("out_s")) if row.get("out_s") is not None else "still in",
                clock(row.get("dwell_s")) + _candidates(row),
                percent_text(row.get("set_fraction")),
                verdict_text(row.get("verdict") or "not measured"),
            ]
            for row in immersions
        ],
    )


def _candidates(row: dict[str, Any]) -> str:
    others = row.get("candidates") or []
    return f" (or {', '.join(clock(c) for c in others)})" if others else ""


def draw_pours(pours: list[dict[str, Any]], measures: Measures) -> Any:
    """Draw the pours."""
    return _table(
        "Pours",
        ["From", "To", "Mass", "Rate"],
        [
            [
                clock(row.get("start_s")), clock(row.get("end_s")),
                measures.value(row.get("mass_g"), "g"),
                measures.value(row.get("rate_g_per_min"), "g/min"),
            ]
            for row in pours
        ],
    )  # fmt: skip


def draw_alarms(alarms: list[dict[str, Any]]) -> Any:
    """Draw when alarms came, were seen and went."""
    return _table(
        "Alarms",
        ["What", "From", "Seen", "To"],
        [
            [row.get("text", ""), clock(row.get("from_s")), clock(row.get("acked_s")),
             clock(row.get("to_s"))]
            for row in alarms
        ],
    )  # fmt: skip


def draw_gaps(gaps: list[dict[str, Any]]) -> Any:
    """Draw where readings are missing, the longest first."""
    longest = sorted(gaps, key=_length_s, reverse=True)
    shown = _table(
        "Gaps in the readings, longest first" if len(gaps) > 1 else "Gap in the readings",
        ["Channel", "From", "To", "Length", "Why"],
        [
            [row.get("channel", ""), clock(row.get("from_s")), clock(row.get("to_s")),
             duration_text(_length_s(row)), row.get("why") or ""]
            for row in longest[:MOST_GAPS]
        ],
    )  # fmt: skip
    left_out = len(gaps) - MOST_GAPS
    more = html.P(f"{left_out} shorter gaps are not listed.") if left_out > 0 else None
    return html.Div([shown, more]) if shown else None


def _length_s(gap: dict[str, Any]) -> float:
    ends = gap.get("from_s"), gap.get("to_s")
    return float(ends[1] - ends[0]) if ends[0] is not None and ends[1] is not None else 0.0


def draw_notes(notes: list[dict[str, Any]]) -> Any:
    """Draw the notes, as they were typed."""
    return _table("Notes", ["At", "Note"], [[clock(n.get("t_s")), n.get("text")] for n in notes])


def _table(title: str, heads: list[str], rows: list[list[Any]]) -> Any:
    if not rows:
        return None
    left_out = len(rows) - MOST_ROWS
    if left_out > 0:
        title = f"{title}: the first {MOST_ROWS}; {left_out} more with bainlog show"
    return html.Table(
        className="plain-table folding",
        children=[
            html.Caption(title),
            html.Thead(html.Tr([html.Th(head, scope="col") for head in heads])),
            html.Tbody(
                [
                    html.Tr(
                        [
                            html.Td(cell, **{"data-head": head})
                            for cell, head in zip(row, heads, strict=True)
                        ]
                    )
                    for row in rows[:MOST_ROWS]
                ]
            ),
        ],
    )

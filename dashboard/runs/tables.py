"""Findings, dwells, pours, alarms, gaps and notes of a run as tables.

Pure: the run's results in, components out. Verdicts are words with a symbol; a check that could
not be made reads so.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from dash import html

from dashboard.live.sentence import symbol
from dashboard.measures import Measures
from logger.model.finding import Finding
from logger.model.rows import (
    AlarmRow,
    GapRow,
    ImmersionRow,
    NoteRow,
    PourRow,
    ResultRow,
    StageRow,
)
from logger.review.headline import STANDINGS, counted, standing
from logger.review.why.explanation import capital
from logger.words.counts import count_text
from logger.words.durations import clock, clock_or_between, duration_text
from logger.words.values import exact_text
from logger.words.verdicts import verdict_of, verdict_text

MOST_ROWS = 60
"""No more rows than this in one table: a browser draws thousands too slowly."""
NOTES_SHOWN = 4
"""So many notes stand open."""
MOST_GAPS = 15
"""The longest gaps that are listed; the others are counted."""


def draw_findings(findings: list[Finding], stages: list[StageRow], measures: Measures) -> Any:
    """Draw the checks of each stage, in order; those of a stage where one was not met are open.

    Parameters
    ----------
    findings : list of Finding
        Of the run.
    stages : list of StageRow
        Of the run, with their titles.
    measures : Measures
        How numbers are written.
    """
    if not findings:
        return html.P("Nothing was judged in this run.", className="soft")
    rows = {stage.id: stage for stage in stages}
    order = list(rows)
    ids = sorted({f.stage for f in findings}, key=lambda i: order.index(i) if i in rows else 99)
    missed = any(f.verdict == "not met" for f in findings)
    aside = "open where something was not met" if missed else 'all folded: no check was "not met"'
    return html.Section(
        [
            html.H2(["Findings by stage", html.Span(aside, className="aside")]),
            *(_stage([f for f in findings if f.stage == i], rows.get(i), measures) for i in ids),
        ],
        className="stages-found",
    )


def _stage(findings: list[Finding], stage: StageRow | None, measures: Measures) -> html.Details:
    count = counted(findings)
    marks = [
        html.Span([symbol(look), html.Span(f"{count[name]} {word}")], className=f"look-{look}")
        for name, (look, word) in STANDINGS.items()
        if name in count
    ]
    took_s = None
    if stage is not None and stage.start_s is not None and stage.end_s is not None:
        took_s = stage.end_s - stage.start_s
    return html.Details(
        [
            html.Summary(
                [
                    html.Span(stage.title if stage else "Whole run", className="stage-name"),
                    html.Span(marks, className="stage-marks"),
                    html.Span("" if took_s is None else clock(took_s), className="stage-took"),
                ]
            ),
            html.Ul([_finding(f, measures) for f in findings], className="finds"),
        ],
        open="not met" in count,
        className="stage-of",
    )


def _finding(found: Finding, measures: Measures) -> html.Li:
    look, _ = STANDINGS[standing(found)]
    word = verdict_of(
        found.verdict,
        value=found.value,
        u_expanded=found.expanded_uncertainty,
        low=found.low,
        high=found.high,
        assumed=found.assumed,
    )
    name = found.check if found.piece is None else f"{found.check}, piece {found.piece}"
    target = measures.band(found.low, found.high, found.unit)
    value = measures.value(found.value, found.unit, found.expanded_uncertainty)
    unsure = found.verdict == "undecided" and found.expanded_uncertainty is None and bool(target)
    adds = unsure and found.value is not None
    return html.Li(
        [
            html.Span(name[:1].upper() + name[1:], className="find-name"),
            html.Span(found.evidence if found.value is None else value, className="find-value"),
            html.Span(f"target {target}" if target else "", className="find-target soft"),
            html.Span([symbol(look), html.Span(word)], className=f"verdict look-{look}"),
            html.Span(found.evidence, className="find-more soft") if adds else None,
        ]
    )


def draw_dwells(immersions: list[ImmersionRow]) -> Any:
    """Draw each piece's time in the bath; how far its skin set is a finding, with uncertainty."""
    return _table(
        "In the bath",
        ["Piece", "In", "Out", "Dwell", "Dwell verdict"],
        [
            [
                row.piece or "?",
                clock_or_between(row.in_s, row.in_between_s),
                "still in" if row.inside else clock_or_between(row.out_s, row.out_between_s),
                clock_or_between(row.dwell_s, row.dwell_between_s) + _candidates(row),
                verdict_text(row.verdict),
            ]
            for row in immersions
        ],
    )


def draw_pieces_came(defects: Mapping[int, Sequence[str]]) -> Any:
    """Draw what was said of single pieces, by number of the piece; nothing where nothing was."""
    if not defects:
        return None
    rows = [[piece, ", ".join(found) or "no defect"] for piece, found in sorted(defects.items())]
    return _table("How pieces came out", ["Piece", "Defects"], rows)


def draw_measured(rows: Sequence[ResultRow], because: str) -> list[Any]:
    """Draw the results of a batch, and the cause that somebody found.

    Parameters
    ----------
    rows : sequence of ResultRow
        Results that the sheet declares.
    because : str
        The cause in words; empty where nobody said.
    """
    cells = [[capital(r.name), exact_text(r.value, r.unit), r.by] for r in rows]
    heads = ["Result", "Value", "By"]
    if not any(r.by for r in rows):
        cells, heads = [row[:2] for row in cells], heads[:2]
    cause = html.P(f"Cause that was found: {because}.") if because else None
    return [cause, _table("Results", heads, cells)]


def _candidates(row: ImmersionRow) -> str:
    others = row.candidates
    return f" (or {', '.join(clock(c) for c in others)})" if others else ""


def draw_pours(pours: list[PourRow], measures: Measures) -> Any:
    """Draw the pours."""
    return _table(
        "Pours",
        ["From", "To", "Mass", "Rate"],
        [
            [
                clock(row.start_s),
                clock(row.end_s),
                measures.value(row.mass_g, "g"),
                measures.value(row.rate_g_per_min, "g/min"),
            ]
            for row in pours
        ],
    )


def draw_alarms(alarms: list[AlarmRow]) -> Any:
    """Draw when alarms came, were seen and went."""
    return _table(
        "Alarms",
        ["What", "From", "Acknowledged", "To"],
        [
            [
                row.text,
                clock(row.from_s),
                clock(row.acked_s),
                clock(row.to_s),
            ]
            for row in alarms
        ],
    )


def draw_gaps(gaps: list[GapRow]) -> Any:
    """Draw where readings are missing, the longest first."""
    longest = sorted(gaps, key=_length_s, reverse=True)
    shown = _table(
        "Gaps in the readings, longest first" if len(gaps) > 1 else "Gap in the readings",
        ["Sensor", "From", "To", "Length", "Why"],
        [
            [
                row.channel,
                clock(row.from_s),
                clock(row.to_s),
                duration_text(_length_s(row)),
                row.why,
            ]
            for row in longest[:MOST_GAPS]
        ],
    )
    left_out = len(gaps) - MOST_GAPS
    more = html.P(f"{left_out} shorter gaps are not listed.") if left_out > 0 else None
    return html.Div([shown, more]) if shown else None


def _length_s(gap: GapRow) -> float:
    return gap.to_s - gap.from_s if gap.to_s is not None else 0.0


def draw_notes(notes: list[NoteRow]) -> list[Any]:
    """Draw the notes, as they were typed; the first few, and the rest folded."""
    rows = [[clock(n.t_s), n.text] for n in notes]
    if len(rows) <= NOTES_SHOWN + 1:  # one more takes no more room than a fold
        return [_table("Notes", ["At", "Note"], rows)]
    rest = rows[NOTES_SHOWN:]
    more = [html.Summary(count_text(len(rest), "more note")), _table("", ["At", "Note"], rest)]
    shown = _table("Notes", ["At", "Note"], rows[:NOTES_SHOWN])
    return [shown, html.Details(more, className="more-of notes-more")]


def _table(title: str, heads: list[str], rows: list[list[Any]]) -> Any:
    if not rows:
        return None
    left_out = len(rows) - MOST_ROWS
    if left_out > 0:
        title = f"{title}: the first {MOST_ROWS}; {left_out} more with bainlog show"
    return html.Table(
        className="plain-table folding",
        children=[
            html.Caption(title) if title else None,
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

"""A run to hand on: one HTML file with everything in it, readable without the tool.

Pure; the content of logger.review.papers.report_content in, text out. Static drawings and tables,
no script, no request; whatever a person typed is escaped. For paper:
logger.review.papers.report_pages.
"""

import html
from collections.abc import Iterable, Sequence

from logger.correct.lagless import sentences
from logger.model.finding import Finding
from logger.model.rows import ImmersionRow, PourRow
from logger.review.papers.again import steps, vessels
from logger.review.papers.figures import traces_svg
from logger.review.papers.page import came_of, measured_of
from logger.review.papers.report_content import ReportContent
from logger.review.papers.report_words import NOTICE, began, came_out, ordered, place, verdict
from logger.review.why.explanation import Cause, Explanation, capital
from logger.words.dates import moment_text
from logger.words.durations import (
    clock_or_between,
    clock_span,
    duration_span,
    duration_text,
)
from logger.words.values import exact_text, percent_text, value_text
from logger.words.verdicts import rule_text, verdict_text

_MARKS = {"not met": "✗", "undecided": "?", "not measured": "–", "met": "✓"}
_CSS = """
:root { color-scheme: light; }
body { font: 15px/1.45 system-ui, sans-serif; color: #111; background: #fff; margin: 0 auto;
  max-width: 60rem; padding: 1rem; }
h1 { font-size: 1.6rem; margin: 0 0 .2rem; } h2 { font-size: 1.2rem; margin: 1.6rem 0 .4rem;
  border-bottom: 1px solid #999; } h3 { font-size: 1rem; margin: 1rem 0 .2rem; }
p { margin: .3rem 0; } .answer { font-size: 1.15rem; font-weight: 600; }
.scroll { overflow-x: auto; } table { border-collapse: collapse; width: 100%; font-size: .87rem; }
th, td { text-align: left; vertical-align: top; padding: .2rem .5rem;
  border-bottom: 1px solid #ccc; }
.findings td:nth-child(1), .findings td:nth-child(2), .findings td:nth-child(5),
.notes td:nth-child(1) { white-space: nowrap; }
.findings th:nth-child(3) { width: 18%; } .findings th:nth-child(4) { width: 30%; }
.findings th:nth-child(6) { width: 16%; }
.photos { display: grid; grid-template-columns: repeat(auto-fill, minmax(15rem, 1fr)); gap: .8rem; }
.photos img { width: 100%; height: auto; } .photos figcaption { font-size: .87rem; }
figure { margin: 0; } figure svg { width: 100%; height: auto; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: .1rem 1rem; margin: .3rem 0; }
dt { font-weight: 600; } dd { margin: 0; overflow-wrap: anywhere; }
.caution { border: 2px solid #111; padding: .4rem .7rem; }
@page { size: A4; margin: 15mm; }
@media print { body { font-size: 10pt; max-width: none; padding: 0; }
  h2, h3, .before { break-after: avoid; } table { font-size: 8.5pt; }
  th, td { padding: .1rem .35rem; } tr, figure, .cause { break-inside: avoid; }
  .scroll { overflow: visible; } thead { display: table-header-group; } }
"""


def report_html(content: ReportContent) -> str:
    """Write the report.

    Parameters
    ----------
    content : ReportContent
        What goes into it.

    Returns
    -------
    str
        A whole HTML page.
    """
    title = f"{content.sheet.sheet.name}, run {content.run_id}"
    parts = [
        _head(content),
        _answer(content),
        _traces(content),
        _causes(content.explanation),
        _findings(content.results.findings),
        _dwells(content.results.immersions),
        _pours(content.results.pours),
        _came(content),
        _photos(content),
        _stages(content),
        _ingredients(content),
        _notes(content),
        _sensors(content),
        _cautions(content.cautions),
        _origin(content),
    ]
    body = "\n".join(part for part in parts if part)
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<meta http-equiv="Content-Security-Policy" '
        f"content=\"default-src 'none'; style-src 'unsafe-inline'; img-src data:\">\n"
        f"<title>{_e(title)}</title>\n<style>{_CSS}</style>\n</head>\n"
        f"<body>\n<main>\n{body}\n</main>\n</body>\n</html>\n"
    )


def _e(text: object) -> str:
    return html.escape(str(text), quote=True)


def _table(
    caption: str, heads: Sequence[str], rows: Iterable[Sequence[object]], look: str = "plain"
) -> str:
    lines = [
        "<tr>" + "".join(f"<td>{_e('' if c is None else c)}</td>" for c in row) + "</tr>"
        for row in rows
    ]
    if not lines:
        return ""
    head = "".join(f'<th scope="col">{_e(h)}</th>' for h in heads)
    return (
        f'<h2>{_e(caption)}</h2>\n<div class="scroll" tabindex="0" role="region" '
        f'aria-label="{_e(caption)}"><table class="{look}">\n'
        f"<thead><tr>{head}</tr></thead>\n<tbody>\n" + "\n".join(lines) + "\n</tbody></table></div>"
    )


def _head(content: ReportContent) -> str:
    head = content.sheet.sheet
    length = duration_text(content.duration_s) if content.duration_s else "unknown length"
    out = came_out(content.outcome, content.defects)
    return (
        f"<h1>{_e(head.name)}</h1>\n<p>Revision {head.revision}, run {_e(content.run_id)}, "
        f"{_e(began(content.started))}, {_e(length)}</p>\n<p>How it came out: {_e(out)}</p>"
    )


def _answer(content: ReportContent) -> str:
    said, why = content.said(), content.explanation
    told = [said.lead, why.says if why is not None else ""]
    lines = [f'<p class="answer">{_e(said.headline)}</p>']
    lines += [f"<p>{_e(text)}</p>" for text in told if text]
    if said.next_time:
        lines.append(f"<p><strong>Next time</strong> {_e(said.next_time)}</p>")
    return "\n".join(lines)


def _traces(content: ReportContent) -> str:
    picture = traces_svg(content.picture())
    names = ", ".join(c.label for c in content.channels)
    return (
        "<h2>What was measured</h2>\n<figure>"
        f'<div role="img" aria-label="Traces over time of {_e(names)}; the tables below give the '
        f'numbers">{picture}</div></figure>'
    )


def _causes(why: Explanation | None) -> str:
    if why is None or not (why.causes or why.missing or why.unlike):
        return ""
    good = len(why.compared_with)
    intro = f"Compared with {good} good batch{'' if good == 1 else 'es'} of the same product."
    blocks = [
        f'<h2>Why</h2>\n<p class="before">{intro} The order is a ranking, not a probability.</p>'
    ]
    blocks += [_cause(n, c) for n, c in enumerate(why.causes[:5], start=1)]
    for title, texts in (
        ("Unlike the good batches", why.unlike),
        ("Not measured", why.missing),
    ):
        if texts:
            items = "".join(f"<li>{_e(t)}</li>" for t in texts)
            blocks.append(f"<h3>{title}</h3>\n<ul>{items}</ul>")
    return "\n".join(blocks)


def _cause(number: int, cause: Cause) -> str:
    known = cause.mechanism
    evidence = "".join(
        f"<li>{_e(e.finding.evidence)} ({_e(e.kind_text)})</li>" for e in cause.evidence
    )
    return (
        f'<section class="cause"><h3>{number}. {_e(capital(known.cause))}</h3>\n'
        f"<p>{_e(known.because if cause.proven else cause.says)}</p>\n"
        + (f"<ul>{evidence}</ul>\n" if evidence else "")
        + f"<dl><dt>Wrong if</dt><dd>{_e(known.wrong_if)}</dd><dt>Next time</dt>"
        f"<dd>{_e(known.next_time)}</dd><dt>Source</dt><dd>{_e(known.source)}</dd></dl></section>"
    )


def _findings(findings: Sequence[Finding]) -> str:
    return _table(
        "Findings",
        ("verdict", "where", "what", "evidence", "when", "source of the limit"),
        (
            (
                f"{_MARKS[f.verdict]} {verdict(f)}",
                place(f),
                f.check,
                f.evidence,
                clock_span(f.from_s, f.to_s),
                f.source,
            )
            for f in ordered(findings)
        ),
        look="findings",
    )


def _dwells(rows: Sequence[ImmersionRow]) -> str:
    return _table(
        "Pieces in the bath",
        ("piece", "in the bath", "dwell", "dwell verdict", "piece identified"),
        (
            (
                r.piece or "?",
                _stay(r),
                _dwell(r),
                verdict_text(r.verdict),
                "" if r.confidence is None else percent_text(r.confidence),
            )
            for r in rows
        ),
    )


def _stay(row: ImmersionRow) -> str:
    """Say from when to when a piece was in, each end as an interval where a gap hides it."""
    if row.in_between_s is None and row.out_between_s is None:
        return clock_span(row.in_s, row.out_s)
    came = clock_or_between(row.in_s, row.in_between_s)
    return f"in {came}, out {clock_or_between(row.out_s, row.out_between_s)}"


def _dwell(row: ImmersionRow) -> str:
    if row.inside:
        return "still in"
    if row.dwell_s is None and row.dwell_between_s is not None:
        return duration_span(*row.dwell_between_s)
    return duration_text(row.dwell_s)


def _pours(rows: Sequence[PourRow]) -> str:
    return _table(
        "Pours",
        ("when", "mass", "rate"),
        (
            (
                clock_span(r.start_s, r.end_s),
                value_text(r.mass_g, "g"),
                value_text(r.rate_g_per_min, "g/min"),
            )
            for r in rows
            if r.end_s is not None
        ),
    )


def _came(content: ReportContent) -> str:
    """Write how the pieces came out, and what was measured of the batch."""
    pieces = _table(
        "How it came out",
        ("piece", "defects", "bare mass"),
        ((row.piece, row.defects, row.mass) for row in came_of(content)),
    )
    return pieces + "".join(f"<p>{_e(said)}</p>" for said in measured_of(content))


def _photos(content: ReportContent) -> str:
    shown = "".join(
        f'<figure><img src="{one.address}" alt="{_e(one.title)}" width="{one.width}" '
        f'height="{one.height}"><figcaption>{_e(one.title)}</figcaption></figure>\n'
        for one in content.photos
    )
    return f'<h2>Photos</h2>\n<div class="photos">\n{shown}</div>' if shown else ""


def _stages(content: ReportContent) -> str:
    """Write the stages as they were run, and how to make them again."""
    when = {row.id: clock_span(row.start_s, row.end_s) for row in content.results.stages}
    stages = zip(content.sheet.stage, steps(content), strict=True)
    table = _table(
        "How to make it again",
        ("stage", "target", "planned", "took", "when", "checks"),
        (
            (s.title, s.what, s.planned, s.took, when.get(stage.id, ""), s.checks)
            for stage, s in stages
        ),
    )
    lines = "".join(f"<li>{_e(vessel)}</li>" for vessel in vessels(content))
    return table + (f"<h3>Vessels</h3>\n<ul>{lines}</ul>" if lines else "")


def _ingredients(content: ReportContent) -> str:
    weighed = {
        w.ingredient: value_text(w.mass_g, "g", w.expanded_uncertainty_g)
        if w.sure
        else "can't tell"
        for w in content.results.weighings
        if w.mass_g is not None
    }
    return _table(
        "Ingredients and lots",
        ("ingredient", "phase", "lot", "planned", "weighed in"),
        (
            (
                i.name,
                i.phase,
                i.lot or "not noted",
                exact_text(i.mass_g, "g"),
                weighed.get(i.name, "not recorded"),
            )
            for i in content.sheet.ingredient
        ),
    )


def _notes(content: ReportContent) -> str:
    rows = [(clock_span(n.t_s, None), n.text) for n in content.notes]
    rows += [
        (clock_span(g.from_s, g.to_s), f"{g.channel}: no readings ({g.why or 'gap'})")
        for g in content.results.gaps
    ]
    return _table("Notes and gaps", ("when", "what"), rows, look="notes")


def _sensors(content: ReportContent) -> str:
    return _table(
        "Checks of the sensors",
        ("sensor", "on the day of the run"),
        ((s.label, s.says) for s in content.results.sensors),
    ) + "".join(f"<p>{_e(sentence)}</p>" for sentence in sentences(content.results.derived))


def _cautions(cautions: Sequence[str]) -> str:
    items = "".join(f"<li>{_e(c)}</li>" for c in cautions)
    listed = f"<ul>{items}</ul>" if items else ""
    return f'<h2>Cautions</h2>\n<div class="caution"><p>{_e(NOTICE)}</p>{listed}</div>'


def _origin(content: ReportContent) -> str:
    rule = rule_text(content.sheet.sheet.decision_rule)
    pairs = (
        ("Report made", moment_text(content.made)),
        ("bainlog", content.version),
        ("Data (SHA-256)", content.data_sha256),
        ("Decision rule", rule),
        ("Uncertainty", "± is expanded, k = 2 (JCGM 100:2008)"),
    )
    items = "".join(f"<dt>{_e(k)}</dt><dd>{_e(v)}</dd>" for k, v in pairs)
    return f"<h2>About this report</h2>\n<dl>{items}</dl>"

"""A run on paper: the same report as PDF pages, or its first page as a PNG.

Writes into a file object that is handed in; matplotlib draws, no browser is needed.
"""

import textwrap
from collections.abc import Iterator
from typing import Any, BinaryIO

from matplotlib import rc_context
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from logger.correct import lagless
from logger.review.papers.figures import STYLE, traces_figure
from logger.review.papers.report_content import ReportContent
from logger.review.papers.report_words import NOTICE, began, came_out, ordered, place, verdict
from logger.review.why.explanation import Explanation, capital
from logger.watch.sensors.probechecks import sentences
from logger.words.durations import clock_span, duration_text
from logger.words.values import exact_text

_A4_IN = (8.27, 11.69)
_WIDTH, _LINES_A_PAGE = 108, 72
_LEFT, _TOP, _INDENT, _LINE_IN = 0.08, 0.95, 0.006, 0.145
_PNG_DPI = 150


def report_pdf(content: ReportContent, file: BinaryIO) -> int:
    """Write the report as A4 pages.

    Parameters
    ----------
    content : ReportContent
        What goes into it.
    file : binary file object
        Where to.

    Returns
    -------
    int
        Number of pages.
    """
    lines = list(_lines(content))
    with rc_context(STYLE), PdfPages(file, metadata={"CreationDate": None}) as pdf:
        pdf.savefig(_first_page(content))
        pages = 1
        for start in range(0, len(lines), _LINES_A_PAGE):
            pages += 1
            pdf.savefig(_text_page(lines[start : start + _LINES_A_PAGE], pages))
    return pages


def report_png(content: ReportContent, file: BinaryIO) -> None:
    """Write the first page, traces and answer, as a PNG."""
    with rc_context(STYLE):
        _first_page(content).savefig(file, format="png", dpi=_PNG_DPI)


def _first_page(content: ReportContent) -> Figure:
    run = content.sheet.sheet
    figure = Figure(figsize=_A4_IN, layout="constrained")
    parts: Any = figure.subfigures(3, 1, height_ratios=(1.0, 3.2, 0.12))
    top, bottom, foot = parts
    head = [
        f"Revision {run.revision}, run {content.run_id}",
        began(content.started),
        f"How it came out: {came_out(content.outcome, content.defects)}",
    ]
    if content.explanation is not None:
        head += ["", *_wrapped(content.explanation.says, 88)]
    top.text(0.08, 0.88, run.name, fontsize=17, weight="bold", va="top")
    top.text(0.08, 0.74, "\n".join(head), fontsize=10, va="top", linespacing=1.5)
    traces_figure(content.channels, content.results.stages, figure=bottom)
    foot.text(_LEFT, 0.3, f"bainlog {content.version}, data {content.data_sha256[:16]}", fontsize=7)
    return figure


def _text_page(lines: list[str], number: int) -> Figure:
    """Write lines onto a page; a line in capitals is a heading."""
    figure = Figure(figsize=_A4_IN)
    for row, line in enumerate(lines):
        heading, indent = line.isupper(), len(line) - len(line.lstrip())
        figure.text(
            _LEFT + _INDENT * indent,
            _TOP - row * _LINE_IN / _A4_IN[1],
            capital(line.strip().lower()) if heading else line.strip(),
            fontsize=10.0 if heading else 7.6,
            weight="bold" if heading else "normal",
            va="top",
        )
    figure.text(1.0 - _LEFT, 0.025, f"page {number}", fontsize=7, ha="right")
    return figure


def _lines(content: ReportContent) -> Iterator[str]:
    if content.explanation is not None:
        yield from _why(content.explanation)
    yield from ("FINDINGS", "")
    for finding in ordered(content.results.findings):
        when = clock_span(finding.from_s, finding.to_s)
        yield from _wrapped(
            ": ".join(
                part
                for part in (
                    capital(verdict(finding)),
                    place(finding),
                    finding.check,
                    finding.evidence,
                )
                if part
            )
            + (f" ({when})" if when else "")
        )
    yield from ("", "PIECES IN THE BATH", "")
    for row in content.results.immersions:
        dwell = "still in" if row.dwell_s is None else duration_text(row.dwell_s)
        yield f"piece {row.piece or '?'}: {clock_span(row.in_s, row.out_s)}, dwell {dwell}"
    yield from ("", "INGREDIENTS AND LOTS", "")
    for i in content.sheet.ingredient:
        yield f"{i.name}: {exact_text(i.mass_g, 'g')}, lot {i.lot or 'not noted'}"
    yield from ("", "NOTES, SENSORS AND CAUTIONS", "")
    for note in content.notes:
        yield from _wrapped(f"{clock_span(note.t_s, None)}: {note.text}")
    for sentence in (
        *sentences(content.results.sensors),
        *lagless.sentences(content.results.derived),
    ):
        yield from _wrapped(sentence)
    for caution in (NOTICE, *content.cautions):
        yield from _wrapped(caution)
    yield ""
    yield from _wrapped(
        f"Made {content.made}; bainlog {content.version}; data SHA-256 "
        f"{content.data_sha256}; ± is expanded, k = 2"
    )


def _why(why: Explanation) -> Iterator[str]:
    if not (why.causes or why.missing):
        return
    yield from ("WHY", "")
    for number, cause in enumerate(why.causes[:5], start=1):
        known = cause.mechanism
        yield from _wrapped(f"{number}. {capital(known.cause)}")
        yield from _wrapped(known.because if cause.proven else cause.says, indent=3)
        for evidence in cause.evidence:
            text = f"- {evidence.finding.evidence} ({evidence.kind_text})"
            yield from _wrapped(text, indent=3)
        yield from _wrapped(f"Wrong if: {known.wrong_if}", indent=3)
        yield from _wrapped(f"Next time: {known.next_time}", indent=3)
        yield from _wrapped(f"Source: {known.source}", indent=3)
        yield ""
    for missing in why.missing:
        yield from _wrapped(f"Not measured: {missing}")
    yield ""


def _wrapped(text: str, width: int = _WIDTH, indent: int = 0) -> list[str]:
    return textwrap.wrap(
        text, width, initial_indent=" " * indent, subsequent_indent=" " * (indent + 2)
    )

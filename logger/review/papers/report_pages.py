"""A run on paper: the report as two PDF pages, or all of it as a PNG.

Writes into a file object that is handed in; the template is ``report.typ``.
"""

from dataclasses import asdict
from typing import BinaryIO, Literal

from logger.review.papers.page import page_of
from logger.review.papers.report_content import ReportContent
from logger.review.papers.typesetting import Paper, typeset


def report_pdf(content: ReportContent, file: BinaryIO, paper: Paper = "a4") -> None:
    """Write the report as two tagged pages.

    Parameters
    ----------
    content : ReportContent
        What goes into it.
    file : binary file object
        Where to.
    paper : str
        ``a4`` (ISO 216) or ``letter``.
    """
    file.write(_set(content, paper, "pdf"))


def report_png(content: ReportContent, file: BinaryIO) -> None:
    """Write the report, both pages as one, as a PNG."""
    file.write(_set(content, "one", "png"))


def _set(content: ReportContent, paper: str, form: Literal["pdf", "png"]) -> bytes:
    return typeset("logger.review.papers", "report.typ", asdict(page_of(content)), paper, form)

"""A run on paper: the report as two PDF pages, or all of it as a PNG.

Writes into a file object that is handed in; typst sets the pages from a template of the package
with its own fonts, without a network. What a run says goes to it as data and is never markup.
"""

import json
from dataclasses import asdict
from importlib.resources import files
from typing import BinaryIO, Literal

from logger.review.papers.page import page_of
from logger.review.papers.report_content import ReportContent

Paper = Literal["a4", "letter"]
_PNG_PPI = 150.0


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
    """Set the pages in typst's own fonts; in those of the machine, too, where a letter is in none.

    PDF/UA-1 (ISO 14289-1) admits no letter that can't be shown, so typst refuses it there;
    a PNG has no such rule, and takes both at once.
    """
    # Here, because every process that may need it would pay for it at its start.
    import typst

    template = files("logger.review.papers").joinpath("report.typ").read_bytes()
    said = {"page": json.dumps(asdict(page_of(content))), "paper": paper}

    def made(machine: bool) -> bytes:
        fonts = typst.Fonts(include_system_fonts=machine, include_embedded_fonts=True)
        compiler = typst.Compiler(template, font_paths=fonts, sys_inputs=said)
        return _one_file(
            compiler.compile(format=form, ppi=_PNG_PPI, pdf_standards=[] if machine else "ua-1")
        )

    try:
        return made(machine=form == "png")
    except typst.TypstError:
        return made(machine=True)


def _one_file(made: bytes | list[bytes] | None) -> bytes:
    if not isinstance(made, bytes):
        raise TypeError(f"one file was wanted of typst, not {type(made).__name__}")
    return made

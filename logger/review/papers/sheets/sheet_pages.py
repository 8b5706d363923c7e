"""A sheet on paper: the batch card and the recipe to hand on, as PDF or PNG.

Writes into a file object that is handed in; the templates are ``card.typ`` and ``recipe.typ``.
"""

from dataclasses import asdict
from typing import BinaryIO, Literal

from logger.review.papers.sheets.card import Card
from logger.review.papers.sheets.handed import Recipe
from logger.review.papers.typesetting import Paper, typeset

Form = Literal["pdf", "png"]


def write_sheet(
    page: Card | Recipe, file: BinaryIO, form: Form = "pdf", paper: Paper = "a4"
) -> None:
    """Write a batch card or a recipe to hand on, of as many pages as it needs.

    Parameters
    ----------
    page : Card or Recipe
        What it says.
    file : binary file object
        Where to.
    form : str
        ``pdf``, or ``png`` with all of it on one page.
    paper : str
        ``a4`` (ISO 216) or ``letter``; of a PDF.
    """
    template = "card.typ" if isinstance(page, Card) else "recipe.typ"
    on = "one" if form == "png" else paper
    file.write(typeset("logger.review.papers.sheets", template, asdict(page), on, form))

"""A sheet on paper: the batch card and the recipe to hand on, as PDF or PNG.

Writes into a file object that is handed in; the templates are ``card.typ`` and ``recipe.typ``.
"""

from dataclasses import asdict
from typing import BinaryIO, Literal

from logger.review.papers.sheets.card import Card
from logger.review.papers.sheets.handed import Recipe
from logger.review.papers.typesetting import Paper, typeset

Form = Literal["pdf", "png"]


def write_card(card: Card, file: BinaryIO, form: Form = "pdf", paper: Paper = "a4") -> None:
    """Write a batch card: one page, or more where one has no room for it.

    Parameters
    ----------
    card : Card
        What it says.
    file : binary file object
        Where to.
    form : str
        ``pdf``, or ``png`` with all of it on one page.
    paper : str
        ``a4`` (ISO 216) or ``letter``; of a PDF.
    """
    file.write(_set("card.typ", asdict(card), paper, form))


def write_recipe(recipe: Recipe, file: BinaryIO, form: Form = "pdf", paper: Paper = "a4") -> None:
    """Write a recipe to hand on, of as many pages as it needs.

    Parameters
    ----------
    recipe : Recipe
        What it says.
    file : binary file object
        Where to.
    form : str
        ``pdf``, or ``png`` with all of it on one page.
    paper : str
        ``a4`` (ISO 216) or ``letter``; of a PDF.
    """
    file.write(_set("recipe.typ", asdict(recipe), paper, form))


def _set(template: str, page: object, paper: str, form: Form) -> bytes:
    on = "one" if form == "png" else paper
    return typeset("logger.review.papers.sheets", template, page, on, form)

"""A sheet with one stage of every kind there is, each as its record writes it."""

from logger.model.files import sheet_from_text
from logger.model.kinds.registry import KINDS
from logger.model.sheet import Sheet
from logger.review.learn.sheets import template


def text_of_all_kinds() -> str:
    """Return the sheet to begin with, and a stage of each kind that it lacks."""
    return template() + "".join(kind.example for kind in KINDS if not kind.in_first_sheet)


def sheet_of_all_kinds() -> Sheet:
    """Return it as read, its stages in the order of the work."""
    sheet = sheet_from_text(text_of_all_kinds(), "all kinds.sheet.toml")
    by_kind = {stage.kind: stage for stage in sheet.stage}
    return sheet.model_copy(update={"stage": [by_kind[kind.name] for kind in KINDS]})

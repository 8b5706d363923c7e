"""A saved sheet on paper: the links to its card and its recipe, and the routes behind them.

Draws and answers; what stands on the paper is ``logger.review.papers.sheets``'. The card's code
holds the address at which the local network reaches this screen, and none where it does not.
"""

import io
from typing import Any
from urllib.parse import quote, urlsplit

import flask
from dash import html

from dashboard.doors.address import LOOPBACK, own_address
from dashboard.learn.portraits import MOST_GOOD, Portraits
from dashboard.links import Links
from logger.batch.names import known_sheet
from logger.model.errors import BainlogError, InputError, StoreError
from logger.review.features.portrait import Portrait
from logger.review.papers.sheets.card import card_of
from logger.review.papers.sheets.code import sheet_address
from logger.review.papers.sheets.handed import recipe_of
from logger.review.papers.sheets.last import last_of
from logger.review.papers.sheets.sheet_pages import write_sheet
from logger.review.papers.typesetting import Paper
from logger.review.plan.plan import plan

PAPERS = {"card": "Batch card", "recipe": "Recipe to pass on"}
SIZES: dict[str, Paper] = {"A4": "a4", "Letter": "letter"}


def draw_papers(name: str) -> list[Any]:
    """Draw the links of a saved sheet; what is not saved has none."""
    if not name:
        hint = "A saved sheet can be printed: a card to work from, a recipe to pass on."
        return [html.H2("On paper"), html.P(hint, className="hint")]
    links = [
        html.A(
            f"{title}, {size}",
            href=f"/sheets/{quote(name)}/{paper}?paper={value}",
            target="_blank",
            className="key small",
        )
        for paper, title in PAPERS.items()
        for size, value in SIZES.items()
    ]
    hint = "The sheet as it was saved, as PDF."
    return [
        html.H2("On paper"),
        html.Div(links, className="answers wrap"),
        html.P(hint, className="hint"),
    ]


def register(server: flask.Flask, links: Links, portraits: Portraits, *, lan: bool) -> None:
    """Attach the route of the papers to a server.

    Parameters
    ----------
    server : flask.Flask
        The server.
    links : Links
        The way to the sheets.
    portraits : Portraits
        Numbers of the finished runs, for the recipe.
    lan : bool
        Whether the local network reaches this screen.
    """

    @server.get("/sheets/<name>/<any(card, recipe):paper>")
    def _paper(name: str, paper: str) -> flask.Response:
        try:
            made = _made(links, portraits, name, paper, lan=lan)
        except (InputError, StoreError) as cause:
            return _plain(f"This sheet can't be printed. {cause}", 404)
        except BainlogError as cause:
            return _plain(f"This sheet can't be printed. {cause}", 500)
        answer = flask.Response(made, mimetype="application/pdf")
        answer.headers.set("Content-Disposition", "inline", filename=f"{name}-{paper}.pdf")
        return answer


def _made(links: Links, portraits: Portraits, name: str, paper: str, *, lan: bool) -> bytes:
    size = flask.request.args.get("paper", "a4")
    if size not in SIZES.values():
        raise InputError("paper", repr(size), f"there is {', '.join(SIZES.values())}")
    fats, file = portraits.fats(), io.BytesIO()
    sheet = known_sheet(links.folder().sheet_text(name), name, fats)
    cautions = plan(sheet, None, fats, portraits.slabs()).cautions
    on: Paper = "letter" if size == "letter" else "a4"
    if paper == "card":
        address = sheet_address(_screen(), name) if lan else ""
        last = _last(links, portraits, sheet.sheet.product or sheet.sheet.name)
        write_sheet(card_of(sheet, cautions, address, last), file, "pdf", on)
    else:
        good = _good(links, portraits, sheet.sheet.product or sheet.sheet.name)
        write_sheet(recipe_of(sheet, good, cautions), file, "pdf", on)
    return file.getvalue()


def _screen() -> str:
    """Return where the local network reaches this screen: as it was asked, if from another."""
    asked = urlsplit(flask.request.host_url)
    if asked.hostname in (LOOPBACK, "localhost"):
        return f"{asked.scheme}://{own_address()}:{asked.port or 80}"
    return f"{asked.scheme}://{asked.netloc}"


def _last(links: Links, portraits: Portraits, product: str) -> str:
    """Return what the last run of a product left to mind; empty for none that can be read."""
    for entry in links.catalog().runs(product=product, status="ended")[:1]:
        return last_of(entry.run_id, entry.started, portraits.readable, portraits.why)
    return ""


def _good(links: Links, portraits: Portraits, product: str) -> list[Portrait]:
    """Return the accepted runs of a product that can be read, the latest first."""
    entries = links.catalog().runs(product=product, outcome="accepted", status="ended")
    found = (portraits.readable(entry.run_id) for entry in entries[:MOST_GOOD])
    return [one for one in found if one is not None]


def _plain(text: str, status: int) -> flask.Response:
    return flask.Response(text + "\n", status=status, mimetype="text/plain")

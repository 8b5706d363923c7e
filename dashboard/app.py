"""Puts the pages together: ``build_app``.

Builds one Dash app for one data folder. Nothing is registered at import, so that a process can hold
several apps, as the tests do.
"""

from pathlib import Path

import dash
from flask_compress import Compress

from dashboard import shell
from dashboard.doors.payloads import answer_wrong_payloads
from dashboard.guard import guard
from dashboard.learn import reasons, together
from dashboard.learn.portraits import Portraits
from dashboard.links import Links
from dashboard.live import layout as bench_layout
from dashboard.live import page as bench_page
from dashboard.photos import doors
from dashboard.runs import handing, listing, one
from dashboard.sheets import form, papers
from dashboard.sheets import page as sheets_page
from dashboard.wiring import page as wiring_page

RUN = "(?P<run_id>[0-9a-z-]+)"
"""A run's id in a path."""


def build_app(
    data_dir: Path,
    *,
    token: str | None = None,
    lan: bool = False,
    links: Links | None = None,
) -> dash.Dash:
    """Build the screen of one data folder.

    Parameters
    ----------
    data_dir : Path
        The data folder.
    token : str or None
        Asked of every request when given; needed with `lan`.
    lan : bool
        Answer other machines of the local network too.
    links : Links or None
        Other ways to recorder and runs than those of the data folder, for tests.

    Returns
    -------
    Dash
        Its ``server`` is what a web server runs.

    Raises
    ------
    ValueError
        If `lan` is asked for without a token.
    """
    links = links or Links(data_dir)
    app = shell.Frame(
        __name__,
        assets_folder="assets",
        title="bainlog",
        update_title="",
        serve_locally=True,
        suppress_callback_exceptions=True,
        compress=False,
    )
    form.load_grid_late()
    portraits = Portraits(links)
    places = [
        shell.Place("/", "Bench", bench_layout.layout),
        shell.Place("/runs", "Runs", listing.layout),
        shell.Place("/compare", "Compare", together.layout, graphs=True),
        shell.Place("/sheets", "Sheets", sheets_page.layout),
        shell.Place("/instruments", "Instruments", wiring_page.layout),
        shell.Place(f"/why/{RUN}", "", reasons.layout_for(links, portraits), graphs=True),
        shell.Place(f"/runs/{RUN}", "", one.layout_for(links, portraits), graphs=True),
    ]
    app.places = tuple(places)
    app.layout = shell.layout(places)
    shell.register(app, places)
    for page in (bench_page, listing, sheets_page, wiring_page):
        page.register(app, links)
    one.register(app, links, portraits)
    reasons.register(app, links, portraits)
    together.register(app, links, portraits)
    handing.register(app.server, links, portraits)
    papers.register(app.server, links, portraits, lan=lan)
    doors.register(app.server, links)
    Compress(app.server)
    guard(app.server, token=token, lan=lan, scripts=app.csp_hashes())
    answer_wrong_payloads(app)  # after the guard: who may not ask is not listened to
    return app

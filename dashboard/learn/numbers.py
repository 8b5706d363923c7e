"""The numbers of compared runs as a table to take away: CSV, one line a number.

Takes the runs from the address as the page does; what they hold comes from the portraits.
"""

import csv
import io
from collections.abc import Sequence

import flask

from dashboard.learn.portraits import Portraits
from logger.review.compare.compare import compare
from logger.review.features.portrait import Portrait
from logger.words.digits import exported

PATH = "/compare/table"
MEDIA = "text/csv; charset=utf-8"


def register(server: flask.Flask, portraits: Portraits, most: int) -> None:
    """Attach the route to a server.

    Parameters
    ----------
    server : flask.Flask
        The server.
    portraits : Portraits
        Numbers of the finished runs.
    most : int
        No more runs than this are compared.
    """

    @server.get(PATH)
    def _table() -> flask.Response:
        if flask.request.headers.get("Sec-Fetch-Site") == "cross-site":
            return flask.Response("That page may not ask for runs.\n", 403, mimetype="text/plain")
        ids = flask.request.args.get("runs", "").split(",")[:most]
        runs = [run for run in map(portraits.readable, filter(None, ids)) if run is not None]
        if len(runs) < 2:
            said = "Choose two or more runs that were ended.\n"
            return flask.Response(said, 404, mimetype="text/plain")
        answer = flask.Response(table_of(runs), mimetype=MEDIA)
        answer.headers["Content-Disposition"] = 'attachment; filename="compared-runs.csv"'
        return answer


def table_of(runs: Sequence[Portrait]) -> str:
    """Return the numbers of runs as CSV: name, unit, then of each run its value and 2 u."""
    found = compare(runs)
    file = io.StringIO()
    writer = csv.writer(file)
    heads = [head for run_id in found.runs for head in (run_id, f"{run_id} ± (k = 2)")]
    writer.writerow(["number", "unit", *heads])
    for row in found.rows:
        pairs = zip(row.values, row.us, strict=True)
        cells = [cell for value, u in pairs for cell in (value, None if u is None else 2.0 * u)]
        said = ["" if cell is None else exported(cell) for cell in cells]
        writer.writerow([row.label, row.unit, *said])
    return file.getvalue()

"""A run leaves this computer: its report as a page, its readings as CSV, Parquet or JSON.

Two routes beside those of the pages, behind the same guard. A run is asked for by its id, which the
data folder checks; what is made lies in a nameless file that goes away with the answer. Threads of
their own answer here (``dashboard.doors.visitors``), so that pages don't wait for exports.
"""

import datetime
import io
import shutil
import tempfile
import zipfile
from importlib.metadata import version
from pathlib import Path
from typing import IO, Any

import flask
from dash import html

from dashboard.learn.portraits import Portraits
from dashboard.links import Links
from dashboard.live.sentence import symbol
from logger.model.errors import BainlogError, InputError, StoreError
from logger.review.papers.report import report_html
from logger.review.papers.report_content import report_content
from logger.review.papers.report_pages import report_pdf
from logger.review.trace import correcting
from logger.store.exchange.exporting import export
from logger.store.folder.entries import local_iso

KINDS = {
    "csv": ("Table, CSV", "application/zip", "-csv.zip"),
    "parquet": ("Table, Parquet", "application/zip", "-parquet.zip"),
    "json": ("JSON", "application/json", ".json"),
}
"""What a run can be written as: its name on the button, media type, end of the file's name."""


def draw_hand_on(run_id: str, *, ended: bool) -> html.Section:
    """Draw the buttons; a run that is still open has no report yet."""
    report = f"/runs/{run_id}/report"
    buttons = [
        html.A([symbol("note"), "Report"], href=report, target="_blank", className="key small"),
        html.A("Report, PDF", href=f"{report}?as=pdf", target="_blank", className="key small"),
        html.A("Save report", href=f"{report}?save=1", className="key small"),
    ]
    exports = [
        html.A(name, href=f"/runs/{run_id}/export/{kind}", className="key small")
        for kind, (name, _, _) in KINDS.items()
    ]
    hint = (
        "The report is one page with every check; its PDF is two pages to print. The tables hold "
        "every reading, as sent and corrected; bainlog import restores the run from them."
    )
    if not ended:
        hint = f"The report is ready when the run has ended. {hint}"
    return html.Section(
        [
            html.H2("Pass it on"),
            html.Div([*(buttons if ended else []), *exports], className="answers wrap"),
            html.Details(
                [
                    html.Summary("What they hold"),
                    html.P(hint, className="hint"),
                    html.P(
                        [
                            "Judge it again with today's program: ",
                            html.Code(f"bainlog replay {run_id}"),
                        ],
                        className="hint",
                    ),
                ],
                className="more-of",
            ),
        ],
        id="hand-on",
        className="plate hand-on",
    )


def register(server: flask.Flask, links: Links, portraits: Portraits) -> None:
    """Attach the two routes to a server.

    Parameters
    ----------
    server : flask.Flask
        The server.
    links : Links
        The way to the run files.
    portraits : Portraits
        Numbers of the finished runs, for the report.
    """

    @server.get("/runs/<run_id>/report")
    def _report(run_id: str) -> Any:
        return _answered(lambda: _as_page(links, portraits, run_id))

    @server.get("/runs/<run_id>/export/<kind>")
    def _export(run_id: str, kind: str) -> Any:
        if flask.request.headers.get("Sec-Fetch-Site") == "cross-site":
            return _plain("That page may not ask for a run.", 403)
        return _answered(lambda: _as_file(links, run_id, kind))


def _answered(make: Any) -> Any:
    """Answer with what was made, or with a sentence that says why not."""
    try:
        return make()
    except (InputError, StoreError) as cause:
        return _plain(f"This run can't be exported. {cause}", 404)
    except BainlogError as cause:
        return _plain(f"This run can't be exported. {cause}", 500)


def _as_page(links: Links, portraits: Portraits, run_id: str) -> flask.Response:
    with links.open_run(run_id) as view:
        results = view.results()
        if results is None:
            raise InputError(run_id, "was not ended", "end it first, then make the report")
        why = portraits.why(run_id)
        content = report_content(
            view,
            results,
            why,
            portraits.fats(),
            portraits.causes(),
            started=local_iso(view.header.started_utc_ns, view.header.zone),
            duration_s=view.duration_ns / 1e9,
            version=version("bainlog"),
            made=datetime.datetime.now().astimezone().isoformat(timespec="seconds"),
        )
    if flask.request.args.get("as") == "pdf":
        file = io.BytesIO()
        report_pdf(content, file)
        return flask.Response(file.getvalue(), mimetype="application/pdf")
    answer = flask.Response(report_html(content), mimetype="text/html")
    if flask.request.args.get("save"):
        answer.headers["Content-Disposition"] = f'attachment; filename="{run_id}-report.html"'
    return answer


def _as_file(links: Links, run_id: str, kind: str) -> flask.Response:
    if kind not in KINDS:
        raise InputError("export", repr(kind), f"there is {', '.join(KINDS)}")
    _, media, ending = KINDS[kind]
    with links.open_run(run_id) as view, tempfile.TemporaryDirectory(prefix="bainlog-") as scratch:
        made = export(view, kind, Path(scratch) / run_id, correcting(view))
        file: IO[bytes] = tempfile.TemporaryFile()  # noqa: SIM115 - closed with the answer
        if made.is_dir():
            _zip(made, file)
        else:
            with made.open("rb") as source:
                shutil.copyfileobj(source, file)
    file.seek(0)
    answer = flask.send_file(
        file, mimetype=media, as_attachment=True, download_name=f"{run_id}{ending}", max_age=0
    )
    answer.call_on_close(file.close)
    return answer


def _zip(folder: Path, into: IO[bytes]) -> None:
    with zipfile.ZipFile(into, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as packed:
        for path in sorted(folder.rglob("*")):
            packed.write(path, f"{folder.name}/{path.relative_to(folder)}")


def _plain(text: str, status: int) -> flask.Response:
    return flask.Response(text + "\n", status=status, mimetype="text/plain")

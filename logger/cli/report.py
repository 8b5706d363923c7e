"""``report``: a run to hand on. Apart from ``why`` because drawing is slow to load."""

import datetime
from importlib.metadata import version
from pathlib import Path

import click

from logger.cli.options import kept_data_option, say
from logger.cli.why import explained, knowledge_of
from logger.model.errors import InputError
from logger.recorder.replay.replay import replay
from logger.recorder.setup import fats_of
from logger.review.papers.report import report_html
from logger.review.papers.report_content import ReportContent, report_content
from logger.review.papers.report_pages import report_pdf, report_png
from logger.review.papers.typesetting import Paper
from logger.store.folder.datafolder import DataFolder
from logger.store.folder.entries import local_iso
from logger.store.run.runfile import RunView

FILE = click.Path(path_type=Path)


@click.command()
@click.argument("run")
@kept_data_option
@click.option("-o", "--output", type=FILE, required=True, help="A .html, .pdf or .png file.")
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="a4",
    show_default=True,
    help="Size of the pages of a PDF.",
)
def report(run: str, data: Path, output: Path, paper: Paper) -> None:
    """Write a report to pass on: two pages as PDF, both in one PNG, or HTML with every check."""
    kind = output.suffix.lower()
    if kind not in (".html", ".pdf", ".png"):
        found = f"can't write {kind or 'a file without an ending'}"
        raise InputError(str(output), found, "name it .html, .pdf or .png")
    folder = DataFolder(data)
    content = content_of(folder, folder.find_run(run))
    try:
        if kind == ".html":
            output.write_text(report_html(content), encoding="utf-8")
        else:
            with output.open("wb") as file:
                if kind == ".pdf":
                    report_pdf(content, file, paper)
                else:
                    report_png(content, file)
    except OSError as cause:
        raise InputError(
            str(output), f"cannot be written ({cause.strerror})", "give another place"
        ) from cause
    say(str(output))


def content_of(folder: DataFolder, run: str) -> ReportContent:
    """Gather what goes into the report of a run."""
    why = explained(folder, run)
    fats = fats_of(folder)
    with RunView.open(folder.run_path(run)) as view:
        return report_content(
            view,
            view.results() or replay(view, fats),
            why,
            fats,
            {m.id: m.cause for m in knowledge_of(folder)},
            started=local_iso(view.header.started_utc_ns, view.header.zone),
            duration_s=view.duration_ns / 1e9,
            version=version("bainlog"),
            made=datetime.datetime.now().astimezone().isoformat(timespec="seconds"),
        )

"""``runs``, ``show`` and ``outcome``: looking at what was recorded."""

from pathlib import Path

import click

from logger.cli.options import data_option, json_option, print_json, table
from logger.control.client import Client, GoneError
from logger.correct import lagless
from logger.model.errors import InputError
from logger.model.finding import Finding
from logger.model.notes import all_notes
from logger.model.rows import ImmersionRow
from logger.recorder.replay.replay import replay
from logger.recorder.replay.shown import shown
from logger.recorder.setup import fats_of
from logger.store.folder.catalog import Catalog, RunEntry, describe
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView, RunWriter
from logger.watch.sensors.probechecks import sentences
from logger.words.durations import clock, duration_text
from logger.words.values import percent_text
from logger.words.verdicts import verdict_of, verdict_text


@click.command()
@data_option
@json_option
@click.option("--find", default="", help="Only runs whose sheet, lot, fat or note holds this.")
def runs(data: Path, as_json: bool, find: str) -> None:
    """List the recorded runs, newest first."""
    rows = Catalog(DataFolder(data)).runs(text=find)
    if as_json:
        print_json({"runs": [row.as_json() for row in rows]})
        return
    if not rows:
        click.echo("No runs here. Try 'bainlog demo', or record one with 'bainlog start'.")
        return
    table(
        "",
        ["run", "started", "sheet", "length", "how it came out"],
        [
            [
                row.run_id,
                row.started[:16].replace("T", " "),
                f"{row.sheet}, revision {row.revision}",
                duration_text(row.duration_ns / 1e9),
                _came_out(row),
            ]
            if row.status != "unreadable"
            else [row.run_id, row.started[:16].replace("T", " "), "", "", _came_out(row)]
            for row in rows
        ],
    )
    for row in rows:
        if row.problem:
            click.echo(row.problem, err=True)


def _came_out(row: RunEntry) -> str:
    damaged = ", damaged" if row.damage else ""
    if row.status != "ended":
        return f"{row.status}{damaged}"
    defects = ": " + ", ".join(row.defects) if row.defects else ""
    return f"{row.outcome or 'not said yet'}{defects}{damaged}"


@click.command()
@click.argument("run")
@data_option
@json_option
def show(run: str, data: Path, as_json: bool) -> None:
    """Show what a run found: stages, dwells, findings."""
    folder = DataFolder(data)
    with folder.view(run, tolerant=True) as view:
        if as_json:
            print_json(shown(view, fats_of(folder)))
            return
        about = describe(view, view.header.run_id)
        results = view.results() or replay(view, fats_of(folder))
        notes = all_notes(results.notes, view.events())
    click.echo(f"{about.sheet}, revision {about.revision}: run {about.run_id}")
    click.echo(f"{about.started}, {duration_text(about.duration_ns / 1e9)}, {_came_out(about)}")
    for sentence in filter(None, (about.problem, *about.damage)):
        click.echo(sentence)
    if results.stages:
        table(
            "Stages",
            ["stage", "kind", "from", "to"],
            [[s.id, s.kind, clock(s.start_s), clock(s.end_s)] for s in results.stages],
        )
    if results.immersions:
        table(
            "In the bath",
            ["piece", "in", "out", "dwell", "set", "verdict"],
            [_immersion(row) for row in results.immersions],
        )
    if results.findings:
        table(
            "Findings",
            ["stage", "piece", "check", "verdict", "evidence"],
            [
                [f.stage, str(f.piece or ""), f.check, verdict_name(f), f.evidence]
                for f in results.findings
            ],
        )
    for sentence in (*sentences(results.sensors), *lagless.sentences(results.derived)):
        click.echo(sentence)
    for note in notes:
        click.echo(f"Note at {clock(note.t_s)}: {note.text}")


def verdict_name(found: Finding) -> str:
    """Return the verdict of a finding as a person reads it."""
    return verdict_of(
        found.verdict,
        value=found.value,
        u_expanded=found.expanded_uncertainty,
        low=found.low,
        high=found.high,
    )


def _immersion(row: ImmersionRow) -> list[str]:
    return [
        str(row.piece or "?"),
        clock(row.in_s),
        clock(row.out_s),
        clock(row.dwell_s),
        percent_text(row.set_fraction),
        verdict_text(row.verdict),
    ]


@click.command()
@click.argument("run")
@click.argument("came_out", type=click.Choice(["accepted", "rejected"]))
@click.option("--defect", "defects", multiple=True, help="A defect from the sheet's list.")
@click.option("--note", "text", default="", help="In your own words.")
@data_option
def outcome(run: str, came_out: str, defects: tuple[str, ...], text: str, data: Path) -> None:
    """Write down how a batch came out."""
    folder = DataFolder(data)
    run = folder.find_run(run)
    path = folder.run_path(run)
    with RunView.open(path) as view:
        known = view.sheet().sheet.defects
    for defect in defects:
        if defect not in known:
            raise InputError(
                "--defect", f"{defect!r} is not in the sheet", "it has " + ", ".join(known)
            )
    said = {"outcome": came_out, "defects": list(defects), "text": text}
    with Client(folder.path) as client:
        try:
            client.send("outcome", run=run, **said)
        except GoneError:
            with RunWriter.reopen(path) as file:
                file.set_outcome(came_out, defects, text)
    click.echo(f"Run {run}: {came_out}.")

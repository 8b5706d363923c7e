"""``import``, ``export``, ``photo``, ``replay``: runs and files, and runs worked out again."""

import base64
import dataclasses
import sys
from collections.abc import Callable
from pathlib import Path

import click

from logger.batch.names import known_sheet
from logger.cli.options import (
    data_option,
    json_option,
    kept_data_option,
    print_json,
    printable,
    say,
    table,
)
from logger.cli.runs import verdict_name
from logger.control.client import Client, GoneError
from logger.control.requests import MOST_PIECES
from logger.model.errors import InputError
from logger.model.photos.jpeg import require_kept_form
from logger.model.photos.row import photo_title, photos_said
from logger.model.plainly import results_as_json
from logger.ports.shapefiles import load_shapes
from logger.recorder.replay.acts_of_file import ActsOfFile
from logger.recorder.replay.beside import told
from logger.recorder.replay.intake import take_in
from logger.recorder.replay.replay import Difference, compare_raw
from logger.recorder.replay.replay import replay as judge_again
from logger.recorder.replay.shown import TABLES
from logger.recorder.replay.whole import OPEN, STANDS, left_open, raw_gone, readings_gone
from logger.recorder.setup import fats_of, read_text, slabs_of
from logger.review.trace import correcting
from logger.store.exchange.exporting import Kind
from logger.store.exchange.exporting import export as write_export
from logger.store.exchange.importing import read_csv
from logger.store.exchange.restoring import export_at, restore
from logger.store.folder.datafolder import DataFolder
from logger.store.folder.given import opened, within_memory
from logger.store.photos.encoding import MOST_GIVEN_BYTES, encoded
from logger.store.run.runfile import RunWriter
from logger.store.seals.damage import sentences
from logger.wire.shapes.shape import shapes_from_text
from logger.words.counts import count_text
from logger.words.values import percent_text

FILE = click.Path(path_type=Path)
KINDS: tuple[Kind, ...] = ("csv", "parquet", "json")


@click.command("import")
@click.argument("file", type=FILE)
@data_option
@json_option
@click.option("--sheet", type=FILE, help="Batch sheet to judge it by; an export brings its own.")
@click.option("--bench", type=FILE, help="Bench file, if channels are not named by role.")
@click.option("--events", type=FILE, help="CSV file of time_s, event, text.")
@click.option("--edited", is_flag=True, help="Accept an export that was changed; a note says so.")
def import_(
    file: Path,
    data: Path,
    as_json: bool,
    sheet: Path | None,
    bench: Path | None,
    events: Path | None,
    edited: bool,
) -> None:
    """Read a CSV file as a run, or restore an exported run.

    An export has checksums: one that was changed is refused. If you changed it on
    purpose, add --edited.
    """
    folder = DataFolder(data)
    report: list[str] = []
    if edited and export_at(file) is None:
        raise InputError("--edited", f"{file} is not an export of a run", "leave --edited out")
    if export_at(file) is not None and sheet is None:
        run_id, remarks = restore(folder, file, edited=edited)
        report = list(remarks)
    elif sheet is None:
        raise InputError("--sheet", "missing", "give the batch sheet to judge the file by")
    else:
        if not file.exists():
            raise InputError(str(file), "no such file", "give the path of an existing file")
        with within_memory(file):
            progress = _progress(file) if sys.stderr.isatty() else None
            known = known_sheet(read_text(sheet), sheet.name, fats_of(folder))
            acts = ActsOfFile(known)
            imported = read_csv(file, events, progress, edited=edited, check=acts)
        report = imported.report
        run_id = take_in(
            folder,
            imported,
            sheet_text=read_text(sheet),
            sheet_name=sheet.name,
            bench_text=read_text(bench) if bench is not None else None,
            fats=fats_of(folder),
            slabs=slabs_of(folder),
        )
    if as_json:
        print_json({"run": run_id, "report": report})
        return
    for remark in report:
        say(remark, err=True)
    say(run_id)


def _progress(file: Path) -> Callable[[float], None]:
    """Return what shows how far a large file was read, in one line of the terminal."""

    def show(share: float) -> None:
        click.echo(
            f"\r{printable(file.name)}: {percent_text(share):>9} ", err=True, nl=share >= 1.0
        )

    return show


@click.command()
@click.argument("run")
@kept_data_option
@click.option(
    "--to",
    type=click.Choice(KINDS, case_sensitive=False),
    help="[default: by the ending of --output]",
)
@click.option(
    "-o", "--output", type=FILE, help="Where to write it. [default: here, named after the run]"
)
def export(run: str, data: Path, to: str | None, output: Path | None) -> None:
    """Write a run as CSV, Parquet or JSON.

    Values are as the instruments sent them, with the corrected value and its standard uncertainty
    next to them. Where a probe's time constant is known and matters, so is the value without lag.
    'bainlog import' restores an export without loss. CSV and Parquet make a folder of tables, JSON
    one file.
    """
    kind = _kind(to, output)
    folder = DataFolder(data)
    run = folder.find_run(run)
    with folder.view(run) as view:
        target = output or Path(f"{run}.json" if kind == "json" else f"{run}-{kind}")
        written = write_export(view, kind, target, correcting(view))
    say(str(written))
    if written.is_dir():
        tables = ", ".join(sorted(path.name for path in written.iterdir()))
        say(f"{written} is a folder with {tables}", err=True)


def _kind(to: str | None, output: Path | None) -> Kind:
    """Return what to write: what was asked for, else what the name of the output ends in."""
    asked = to or (output.suffix.lstrip(".").lower() if output is not None else "")
    for kind in KINDS:
        if kind == asked:
            return kind
    raise InputError("--to", "missing", f"give one of {', '.join(KINDS)}")


@click.command()
@click.argument("run")
@click.argument("file", type=FILE, required=False)
@kept_data_option
@click.option("--piece", type=int, metavar="N", help="The piece it shows. [default: the batch]")
@click.option("--text", default="", help="What it shows, in your own words.")
@click.option("--remove", type=int, metavar="N", help="Remove photo N for good; 1 is the first.")
def photo(
    run: str, file: Path | None, data: Path, piece: int | None, text: str, remove: int | None
) -> None:
    """Add a photo to a run, even to a finished one, or remove one.

    Takes JPEG, PNG or WebP. It is saved smaller, upright and without position or other
    metadata. The run's page, report and exports show it.
    """
    folder = DataFolder(data)
    run = folder.find_run(run)
    if remove is not None:
        _remove_photo(folder, run, remove)
        return
    if file is None:
        raise InputError("FILE", "missing", "give a picture, or --remove N")
    with folder.view(run) as view:
        results = view.results()
    pieces = {row.piece for row in results.pieces} if results is not None else set()
    if piece is not None and (not 1 <= piece <= MOST_PIECES or (pieces and piece not in pieces)):
        wanted = f"its pieces are {min(pieces)} to {max(pieces)}" if pieces else "give 1 to 500"
        raise InputError("--piece", f"the run has no piece {piece}", wanted)
    with opened(file, MOST_GIVEN_BYTES) as given:
        picture = encoded(given.read(), file.name)
    of = {} if piece is None else {"piece": piece}
    with Client(folder.path) as client:
        try:
            image = base64.b64encode(picture).decode()
            client.send("photo", run=run, text=text, picture=image, **of)
        except GoneError:
            with RunWriter.reopen(folder.run_path(run)) as kept:
                kept.add_photo(picture, text=text, piece=piece)
    size = require_kept_form(picture)
    shows = "the batch" if piece is None else f"piece {piece}"
    say(f"Run {run}: photo of {shows} added, {size.width} x {size.height} px.")


def _remove_photo(folder: DataFolder, run: str, number: int) -> None:
    with folder.view(run) as view:
        photos = photos_said(view.events())
    if not 1 <= number <= len(photos):
        has = count_text(len(photos), "photo")
        raise InputError("--remove", f"there is no photo {number}", f"the run has {has}")
    with Client(folder.path) as client:
        try:
            client.send("remove_photo", run=run, sha256=photos[number - 1].sha256)
        except GoneError:
            with RunWriter.reopen(folder.run_path(run)) as kept:
                kept.remove_photo(photos[number - 1].sha256)
    say(f"Run {run}: photo {number} ({photo_title(photos[number - 1])}) removed.")


@click.command()
@click.argument("run")
@kept_data_option
@json_option
@click.option("--sheet", type=FILE, help="Judge by this sheet instead of the run's own.")
def replay(run: str, data: Path, as_json: bool, sheet: Path | None) -> None:
    """Judge a run again: readings from its raw bytes, findings with today's program.

    Fails when the raw bytes give other readings than those that were stored. Readings that are
    damaged in the file are taken from the raw bytes, where those are whole. Where readings or raw
    bytes are missing, the earlier findings stay as they are, and the command says so; a run
    without its readings can't be judged by another sheet.
    """
    folder = DataFolder(data)
    with folder.view(run, tolerant=True) as view:
        damage = view.damage()
        fats = fats_of(folder)
        other = known_sheet(read_text(sheet), sheet.name, fats) if sheet is not None else None
        shapes = load_shapes([])
        if view.header.shapes_text:
            shapes = {**shapes, **shapes_from_text(view.header.shapes_text, "the run's shapes")}
        differences = compare_raw(view, shapes) if view.header.origin == "live" else []
        lost = view.header.origin == "live" and any(one.readings for one in damage)
        fewer = readings_gone(view)
        gone = fewer or raw_gone(view, differences)
        stored = view.results() if gone and other is None else None
        again = stored or judge_again(view, fats, other, shapes if lost else None)
        if fewer and other is not None:
            again = left_open(again, fewer)
    if as_json:
        results = results_as_json(again) | {"derived": told(again.derived)}
        print_json(
            {
                "run": run,
                "damage": [dataclasses.asdict(one) for one in damage],
                "not_replayed": gone if stored is not None else "",
                "raw": [dataclasses.asdict(d) for d in differences],
                **{name: results[name] for name in TABLES},
            }
        )
    else:
        for sentence in sentences(damage):
            say(sentence)
        if gone:
            left = OPEN if fewer else "These figures are from what is left."
            then = STANDS if stored is not None else left
            say(f"{gone[:1].upper()}{gone[1:]}. {then}")
        for one in differences:
            say(
                f"{one.channel}: {one.stored} readings stored, {one.from_raw} from raw bytes, "
                f"{one.differing} differ{_from_raw(one)}"
            )
        table(
            "Findings",
            ["stage", "check", "verdict", "evidence"],
            [[f.stage, f.check, verdict_name(f), f.evidence] for f in again.findings],
        )
    raw_too_few = gone or any(one.part == "raw bytes" for one in damage)
    if any(
        d.differing or (not raw_too_few and d.stored + d.damaged != d.from_raw) for d in differences
    ):
        raise InputError(run, "raw bytes and stored readings differ", "keep the file; report it")


def _from_raw(found: Difference) -> str:
    """Say how many damaged readings the raw bytes give again."""
    return f"; {found.damaged} damaged in the file" if found.damaged else ""

"""``sheet new|check|show|scale|diff|card|recipe``: batch sheets made, read, resized, on paper."""

import datetime
import functools
from pathlib import Path

import click

from logger.batch.names import known_sheet
from logger.cli.options import (
    data_option,
    json_option,
    paper_options,
    print_json,
    say,
    table,
    to_paper,
    write_new,
)
from logger.cli.plan import refuse_grave
from logger.model.errors import BainlogError, InputError
from logger.model.files import bench_from_text, sheet_from_text
from logger.model.quantity import quantity_at
from logger.model.sheet import Sheet
from logger.recorder.setup import fats_of, read_text, slabs_of
from logger.review.learn.scaled_text import scaled_text
from logger.review.learn.sheets import differences, factor_for, template
from logger.review.papers.typesetting import Paper
from logger.review.plan.plan import plan
from logger.review.plan.weigh_list import listed_json, lists_of
from logger.store.folder.catalog import Catalog
from logger.store.folder.datafolder import SHEET_SUFFIX, DataFolder

FILE = click.Path(path_type=Path)


@click.group()
def sheet() -> None:
    """Make, check, list, scale, compare and print batch sheets."""


@sheet.command()
@click.argument("file", type=FILE)
def new(file: Path) -> None:
    """Write a sheet with comments to start from."""
    write_new(file, template())
    say(f"{file}: change it, then check it with 'bainlog plan {file}'")


@sheet.command()
@click.argument("file", type=FILE)
@click.option(
    "--bench", type=FILE, help="Bench file: check that it has the sensors the sheet needs."
)
@data_option
def check(file: Path, bench: Path | None, data: Path) -> None:
    """Read a sheet, look up the names in it, and say what will not work."""
    folder = DataFolder(data)
    fats = fats_of(folder)
    table_at = bench_from_text(read_text(bench), bench.name) if bench is not None else None
    wanted = known_sheet(read_text(file), file.name, fats, table_at)
    today = datetime.datetime.now().astimezone().date()
    found = plan(wanted, table_at, fats, slabs_of(folder), today)
    for trouble in found.troubles:
        where = f" [{trouble.stage}]" if trouble.stage else ""
        say(f"{trouble.weight}{where}: {trouble.says}; {trouble.do}")
    refuse_grave(file, found)
    say(f"{file}: valid")


@sheet.command()
@click.argument("file", type=FILE)
@json_option
def show(file: Path, as_json: bool) -> None:
    """List what is weighed: percents, volumes and sub-recipes as masses."""
    found = _read(file)
    if as_json:
        print_json(listed_json(found))
        return
    say(f"{found.sheet.name}, revision {found.sheet.revision}")
    for title, heads, rows in lists_of(found):
        table(title, heads, rows)


@sheet.command()
@click.argument("file", type=FILE)
@click.option("--by", "factor", help="Factor, such as 1.5.")
@click.option("--to", "mass", help='Mass of fat, water and filling together, such as "1.2 kg".')
@click.option("--pieces", type=click.IntRange(min=1), help="Number of pieces.")
@click.option("-o", "--output", type=FILE, required=True, help="Where to write the new sheet.")
def scale(
    file: Path, factor: str | None, mass: str | None, pieces: int | None, output: Path
) -> None:
    """Write a sheet for another batch size; comments and order stay."""
    if sum(v is not None for v in (factor, mass, pieces)) != 1:
        raise InputError(
            "sheet scale", "no size, or more than one", "give one of --by, --to, --pieces"
        )
    text = read_text(file)
    before = sheet_from_text(text, file.name)
    if factor is not None:
        by = quantity_at("--by", factor, "dimensionless")
    else:
        mass_g = quantity_at("--to", mass, "g") if mass is not None else None
        by = factor_for(before, mass_g=mass_g, pieces=pieces)
    if not by > 0.0:
        raise InputError("--by", f"{by:g}", "give a factor above 0")
    new_text, found = scaled_text(text, file.name, by)
    write_new(output, new_text)
    for mind in found.mind:
        say(mind, err=True)
    say(str(output))


@sheet.command()
@click.argument("before", type=FILE)
@click.argument("after", type=FILE)
@json_option
def diff(before: Path, after: Path, as_json: bool) -> None:
    """Say how two sheets differ."""
    found = differences(_read(before), _read(after))
    if as_json:
        rows = [{"where": c.where, "before": c.before, "after": c.after} for c in found]
        print_json({"differences": rows})
        return
    if not found:
        say("The sheets have the same content.")
        return
    table("", ["where", before.name, after.name], [[c.where, c.before, c.after] for c in found])


@sheet.command()
@click.argument("file", type=FILE)
@paper_options
@click.option("--page", help="Address of the screen, for the QR code. [default: this machine's]")
@click.option("--no-code", is_flag=True, help="Draw no QR code.")
@data_option
def card(
    file: Path, output: Path, paper: Paper, page: str | None, no_code: bool, data: Path
) -> None:
    """Write a batch card to work from: amounts to tick off, targets, blanks for times.

    One page where there is room. The QR code opens a sheet that is saved in the data folder, on a
    screen that 'bainlog start --lan' shows; it holds no token.
    """
    # Here and below, because 'sheet check' would pay for the papers at its start.
    from logger.review.papers.sheets.card import card_of
    from logger.review.papers.sheets.sheet_pages import write_sheet

    folder, text = DataFolder(data), read_text(file)
    found = known_sheet(text, file.name, fats_of(folder))
    address = "" if no_code else _address(folder, file, text, page)
    cautions = plan(found, None, fats_of(folder), slabs_of(folder)).cautions
    last = _last(folder, found.sheet.product or found.sheet.name)
    with to_paper(output) as (into, form):
        write_sheet(card_of(found, cautions, address, last), into, form, paper)
    say(str(output))


@sheet.command()
@click.argument("file", type=FILE)
@paper_options
@data_option
def recipe(file: Path, output: Path, paper: Paper, data: Path) -> None:
    """Write a recipe to pass on: percent, g, oz and cups, and what varied in good batches."""
    from logger.cli.why import good_portraits
    from logger.review.papers.sheets.handed import recipe_of
    from logger.review.papers.sheets.sheet_pages import write_sheet

    folder = DataFolder(data)
    found = known_sheet(read_text(file), file.name, fats_of(folder))
    good = good_portraits(folder, found.sheet.product or found.sheet.name)
    cautions = plan(found, None, fats_of(folder), slabs_of(folder)).cautions
    with to_paper(output) as (into, form):
        write_sheet(recipe_of(found, good, cautions), into, form, paper)
    say(str(output))


def _address(folder: DataFolder, file: Path, text: str, page: str | None) -> str:
    """Return what the QR code opens; empty, and said so, for a sheet that no screen can open."""
    from dashboard.doors.address import LOOPBACK, own_address
    from dashboard.serve import PORT
    from logger.review.papers.sheets.code import sheet_address

    name = file.name.removesuffix(SHEET_SUFFIX)
    if name not in folder.sheet_names() or folder.sheet_text(name) != text:
        say(f"No QR code: {file.name} is not saved in {folder.path}.", err=True)
        return ""
    own = own_address()
    if page is None and own == LOOPBACK:
        say("No QR code: this machine is on no network. Give --page ADDRESS.", err=True)
        return ""
    return sheet_address(page or f"http://{own}:{PORT}", name)


def _last(folder: DataFolder, product: str) -> str:
    """Return what the last run of a product left to mind; empty, and said so, if unreadable."""
    from logger.cli.why import explained, portrait_of
    from logger.review.papers.sheets.last import last_of

    for run in Catalog(folder).runs(product=product, status="ended")[:1]:
        try:
            return last_of(
                run.run_id,
                run.started,
                functools.partial(portrait_of, folder),
                functools.partial(explained, folder),
            )
        except BainlogError as cause:
            say(f"Nothing from the last run: {cause}", err=True)
    return ""


def _read(path: Path) -> Sheet:
    return sheet_from_text(read_text(path), path.name)

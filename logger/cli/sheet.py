"""``sheet new|check|show|scale|diff``: batch sheets made, read, listed, resized and compared."""

from pathlib import Path

import click

from logger.batch.names import known_sheet
from logger.cli.options import data_option, json_option, print_json, say, table
from logger.cli.plan import refuse_grave
from logger.model.errors import InputError
from logger.model.files import bench_from_text, sheet_from_text
from logger.model.quantity import quantity_at
from logger.model.sheet import Sheet
from logger.recorder.setup import fats_of, read_text, slabs_of
from logger.review.learn.scaled_text import scaled_text
from logger.review.learn.sheets import differences, factor_for, template
from logger.review.plan.plan import plan
from logger.review.plan.weigh_list import listed_json, lists_of
from logger.store.folder.datafolder import DataFolder

FILE = click.Path(path_type=Path)


@click.group()
def sheet() -> None:
    """Make, check, list, scale and compare batch sheets."""


@sheet.command()
@click.argument("file", type=FILE)
def new(file: Path) -> None:
    """Write a sheet with comments to start from."""
    write_new(file, template())
    say(f"{file}: change it, then check it with 'bainlog plan {file}'")


@sheet.command()
@click.argument("file", type=FILE)
@click.option("--bench", type=FILE, help="Bench file: check that it has the sheet's channels.")
@data_option
def check(file: Path, bench: Path | None, data: Path) -> None:
    """Read a sheet, look up the names in it, and say what will not work."""
    folder = DataFolder(data)
    fats = fats_of(folder)
    table_at = bench_from_text(read_text(bench), bench.name) if bench is not None else None
    wanted = known_sheet(read_text(file), file.name, fats, table_at)
    found = plan(wanted, table_at, fats, slabs_of(folder))
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
        raise InputError("sheet scale", "not one of --by, --to, --pieces", "give exactly one")
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


def write_new(path: Path, text: str) -> None:
    """Write a file that is not there yet.

    Raises
    ------
    InputError
        If it is there, or cannot be written.
    """
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError as cause:
        raise InputError(str(path), "is there already", "give another name") from cause
    except OSError as cause:
        raise InputError(str(path), f"cannot be written: {cause}", "give another place") from cause


def _read(path: Path) -> Sheet:
    return sheet_from_text(read_text(path), path.name)

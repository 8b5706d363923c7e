"""``plan``: what a batch sheet will lead to, before anything is weighed."""

import datetime
from pathlib import Path

import click

from logger.batch.names import known_sheet
from logger.cli.options import data_option, json_option, print_json, say, table
from logger.model.errors import InputError
from logger.model.files import bench_from_text
from logger.recorder.setup import fats_of, read_text, slabs_of
from logger.review.plan.plan import plan as make_plan
from logger.review.plan.planned import Plan
from logger.store.folder.datafolder import DataFolder
from logger.words.counts import count_text
from logger.words.values import value_text

FILE = click.Path(path_type=Path)

_SAID = {"will not work": "WILL NOT WORK", "mind": "MAY GO WRONG", "note": "NOTE"}
"""How much a trouble weighs, as a person reads it."""


@click.command()
@click.argument("sheet", type=FILE)
@click.option("--bench", type=FILE, help="Bench file: room temperature, what can be measured.")
@data_option
@json_option
def plan(sheet: Path, bench: Path | None, data: Path, as_json: bool) -> None:
    """Say what to expect from a batch sheet, and what will not work."""
    table_at = bench_from_text(read_text(bench), bench.name) if bench is not None else None
    folder = DataFolder(data)
    fats = fats_of(folder)
    wanted = known_sheet(read_text(sheet), sheet.name, fats, table_at)
    found = make_plan(
        wanted, table_at, fats, slabs_of(folder), datetime.datetime.now().astimezone().date()
    )
    if as_json:
        print_json(found.as_json())
        return
    say(f"{found.sheet}, revision {found.revision}")
    table(
        "What to expect",
        ["", "likely", "from", "to", "why", "source"],
        [
            [
                p.label,
                *("" if v is None else value_text(v, p.unit) for v in (p.value, p.low, p.high)),
                p.says,
                p.source,
            ]
            for p in found.predictions
        ],
    )
    for trouble in found.troubles:
        where = f" [{trouble.stage}]" if trouble.stage else ""
        do = trouble.do[0].upper() + trouble.do[1:]
        say(f"{_SAID[trouble.weight]}{where}: {trouble.says}. {do}.")
        say(f"    source: {trouble.source}")
    for text in found.untold:
        say(f"CAN'T TELL {text}.")
    for text in found.cautions:
        say(f"CAUTION {text}")
    refuse_grave(sheet, found)


def refuse_grave(sheet: Path, found: Plan) -> None:
    """Refuse a sheet of which something will not work, so that commands agree about it.

    Parameters
    ----------
    sheet : Path
        The file.
    found : Plan
        What it will lead to.

    Raises
    ------
    InputError
        If something will not work.
    """
    grave = [t for t in found.troubles if t.weight == "will not work"]
    if grave:
        raise InputError(
            str(sheet), f"{count_text(len(grave), 'thing')} will not work", "see above"
        )

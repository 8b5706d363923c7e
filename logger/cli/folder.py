"""``backup``, ``restore``, ``remove`` and ``bin``: the data folder copied, and runs thrown away."""

import datetime
import sys
from pathlib import Path

import click

from logger.cli.options import data_option, json_option, kept_data_option, print_json, say, table
from logger.model.errors import InputError
from logger.store.folder.backup import (
    Copied,
    back_up,
    restore_folder,
    sweep_cut_off,
)
from logger.store.folder.datafolder import DataFolder
from logger.store.folder.entries import RunEntry
from logger.store.folder.runbin import RunBin
from logger.words.counts import count_text
from logger.words.durations import duration_text

PLACE = click.Path(path_type=Path)


@click.command()
@click.argument("target", type=PLACE)
@kept_data_option
@json_option
def backup(target: Path, data: Path, as_json: bool) -> None:
    """Copy the data folder, even while a run is being recorded.

    TARGET is a new folder, or a file that ends in .zip; in an existing folder, the copy
    gets a name with the date. The run under way is copied as it is at one moment. Each run of the
    copy is opened and checked, and nothing appears under the target's name before the copy is
    complete.
    """
    folder = DataFolder(data)
    if target.is_dir():
        target = target / f"bainlog-{datetime.datetime.now().astimezone():%Y%m%d-%H%M%S}"
    _sweep(target)
    copied = back_up(folder, target)
    _say_copied(copied, "Copied to", target, as_json=as_json)


@click.command()
@click.argument("source", type=PLACE)
@data_option
@json_option
def restore(source: Path, data: Path, as_json: bool) -> None:
    """Make a data folder from a copy that 'backup' made.

    The data folder (--data) must be new or empty: nothing is overwritten. Each file is
    compared with the checksum of the copy, and each run is opened and checked.
    """
    _sweep(data)
    copied = restore_folder(source, data)
    _say_copied(copied, "Restored into", data, as_json=as_json)


def _sweep(target: Path) -> None:
    for place in sweep_cut_off(target):
        say(f"Removed the remains of an interrupted copy: {place}", err=True)


def _say_copied(copied: list[Copied], what: str, where: Path, *, as_json: bool) -> None:
    runs = [one for one in copied if one.is_run]
    if as_json:
        print_json(
            {
                "path": str(where),
                "runs": [{"file": r.name, "bytes": r.size, "problem": r.problem} for r in runs],
                "files": len(copied),
                "bytes": sum(one.size for one in copied),
            }
        )
        return
    for one in runs:
        if one.problem:
            say(
                f"{one.name}: the copy and the original have the same fault: {one.problem}",
                err=True,
            )
    rest = count_text(len(copied) - len(runs), "other file")
    size_mb = sum(one.size for one in copied) / 1e6
    say(
        f"{what} {where}: {count_text(len(runs), 'run')}, {rest}, {size_mb:.1f} MB. "
        "Each run was opened and checked."
    )


@click.command()
@click.argument("run")
@kept_data_option
def remove(run: str, data: Path) -> None:
    """Move a run to the bin of the data folder, but never the run under way.

    It stays there until you empty the bin: see 'bainlog bin'.
    """
    folder = DataFolder(data)
    run_id = folder.find_run(run)
    RunBin(folder).put(run_id)
    say(f"Run {run_id} is in the bin. Take it out with: bainlog bin --put-back {run_id}")


@click.command("bin")
@kept_data_option
@json_option
@click.option("--put-back", metavar="RUN", help="Move a run back to the others.")
@click.option("--empty", "emptying", is_flag=True, help="Delete everything in it, permanently.")
@click.option("--yes", is_flag=True, help="Empty it without asking.")
def bin_(data: Path, as_json: bool, put_back: str | None, emptying: bool, yes: bool) -> None:
    """List the bin, empty it, or put a run back."""
    wastebin = RunBin(DataFolder(data))
    if put_back is not None:
        if emptying:
            raise InputError("--empty", "given with --put-back", "give one of them")
        say(f"Run {wastebin.put_back(put_back)} is back among the runs.")
        return
    entries = wastebin.entries()
    if as_json:
        print_json({"runs": [e.as_json() | {"bytes": wastebin.size(e.run_id)} for e in entries]})
    else:
        _list(wastebin, entries)
    if emptying and entries:
        _empty(wastebin, [e.run_id for e in entries], yes=yes)


def _list(wastebin: RunBin, entries: list[RunEntry]) -> None:
    if not entries:
        say("The bin is empty.")
        return
    table(
        "",
        ["run", "started", "sheet", "length", "size"],
        [
            [
                e.run_id,
                e.started[:16].replace("T", " "),
                e.sheet or e.status,
                duration_text(e.duration_ns / 1e9),
                f"{wastebin.size(e.run_id) / 1e6:.1f} MB",
            ]
            for e in entries
        ],
    )


def _empty(wastebin: RunBin, run_ids: list[str], *, yes: bool) -> None:
    """Delete what was listed, once the person says so."""
    what = count_text(len(run_ids), "run")
    if not yes:
        if not sys.stdin.isatty():
            raise InputError("--empty", f"{what} would be deleted permanently", "say so with --yes")
        click.confirm(f"Delete {what} permanently?", abort=True)
    wastebin.empty(run_ids)
    say(f"{what} deleted.", err=True)

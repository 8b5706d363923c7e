"""``ports``: what is plugged in, what it says, and a bench file for it."""

import sys
from pathlib import Path

import click

from logger.cli.options import data_option, json_option, print_json
from logger.cli.sensor import somebody_is_there, write_answer
from logger.model.errors import InputError
from logger.model.files import bench_from_text
from logger.model.quantity import number_in
from logger.ports.listen import bench_text, survey
from logger.ports.shapefiles import load_shapes
from logger.store.folder.datafolder import DataFolder


@click.command()
@click.argument("devices", nargs=-1)
@data_option
@click.option("--for", "lasting", default="3 s", show_default=True, help="How long to listen.")
@click.option("--write", is_flag=True, help="Write the proposed bench file into the data folder.")
@json_option
def ports(devices: tuple[str, ...], data: Path, lasting: str, write: bool, as_json: bool) -> None:
    """List serial ports, listen, and propose a bench file.

    DEVICES are further ports that the system does not list: a path, or a URL such as
    socket://10.0.0.5:4001 of a serial server.
    """
    folder = DataFolder(data)
    try:
        seconds = number_in(lasting, "s")
    except ValueError as cause:
        raise InputError("--for", str(cause), "give a time") from cause
    heard = survey(
        seconds, devices=devices, shapes=load_shapes(sorted(folder.path.glob("*.shapes.toml")))
    )
    if as_json:
        print_json([h.as_json() for h in heard])
        return
    if not heard:
        click.echo("No serial port found. Plug in, or name a port by its path in the bench file.")
        return
    for one in heard:
        click.echo(one.says)
    text = bench_text(heard)
    if write:
        path = folder.bench_file
        if path.exists():
            raise InputError(str(path), "a bench file is there already", "move it away first")
        path.write_text(text, encoding="utf-8")
        click.echo(f"Wrote {path}. Say which channel is which (role) before you start.")
        _ask_what_they_are(path)
    else:
        sys.stdout.write("\n" + text)


def _ask_what_they_are(path: Path) -> None:
    """Ask for the type and class of each sensor, where somebody sits at the command."""
    channels = bench_from_text(path.read_text(encoding="utf-8"), path.name).channel
    if not somebody_is_there():
        click.echo("Say what each sensor is, or no limit can be judged: bainlog sensor CHANNEL.")
        return
    for channel in channels:
        write_answer(path, channel)

"""``ports``: what is plugged in, what it says, and a bench file for it."""

import sys
from collections.abc import Mapping
from pathlib import Path

import click

from logger.cli.options import data_option, json_option, print_json, say
from logger.cli.sensor import somebody_is_there, write_answer
from logger.model.errors import InputError
from logger.model.files import bench_from_text
from logger.model.quantity import quantity_at
from logger.ports.listen import Heard, bench_text, survey
from logger.ports.shapefiles import load_shapes
from logger.store.folder.datafolder import DataFolder
from logger.wire.shapes.shape import Shape
from logger.wire.units import quantity_of


@click.command()
@click.argument("devices", nargs=-1)
@data_option
@click.option("--for", "lasting", default="3 s", show_default=True, help="How long to listen.")
@click.option("--numbers", help="What numbers without a unit are: degC, degF, g, kg, lb or oz.")
@click.option("--write", is_flag=True, help="Write the proposed bench file into the data folder.")
@json_option
def ports(
    devices: tuple[str, ...],
    data: Path,
    lasting: str,
    numbers: str | None,
    write: bool,
    as_json: bool,
) -> None:
    """List serial ports, listen, and propose a bench file.

    DEVICES are further ports that the system does not list: a path, or a URL such as
    socket://10.0.0.5:4001 of a serial server.
    """
    folder = DataFolder(data)
    seconds = quantity_at("--for", lasting, "s")
    if numbers is not None and quantity_of(numbers) is None:
        raise InputError("--numbers", repr(numbers), "give degC, degF, g, kg, lb or oz")
    shapes = load_shapes(sorted(folder.path.glob("*.shapes.toml")))
    if not as_json:
        say("Listening. Quiet ports are asked too, with questions that only read.", err=True)
    heard = survey(seconds, devices=devices, shapes=shapes)
    if numbers is not None:
        heard = [one.in_unit(numbers, shapes) for one in heard]
    if as_json:
        print_json([h.as_json() for h in heard])
        return
    if not heard:
        say("No serial port found. Plug in, or name a port by its path in the bench file.")
        return
    for one in heard:
        say(one.says)
    if write and folder.bench_file.exists():
        raise InputError(
            str(folder.bench_file), "a bench file is there already", "move it away first"
        )
    if write and somebody_is_there():
        heard = [_with_unit(one, shapes) for one in heard]
    text = bench_text(heard)
    if write:
        path = folder.bench_file
        if any(one.units for one in heard) and not any(
            one.shape and not one.units for one in heard
        ):
            raise InputError(
                "ports", "the numbers have no unit", "say what they are, as in --numbers degC"
            )
        path.write_text(text, encoding="utf-8")
        say(f"Wrote {path}. Say which channel is which (role) before you start.")
        _ask_what_they_are(path)
    else:
        sys.stdout.write("\n" + text)


def _with_unit(one: Heard, shapes: Mapping[str, Shape]) -> Heard:
    """Ask a person what numbers without a unit are."""
    if not one.units:
        return one
    nothing = "something else"
    says = f"{one.device} prints {one.sample!r} without a unit. What are its numbers?"
    said = click.prompt(says, type=click.Choice([*one.units, nothing]))
    return one if said == nothing else one.in_unit(said, shapes)


def _ask_what_they_are(path: Path) -> None:
    """Ask for the type and class of each sensor, where somebody sits at the command."""
    channels = bench_from_text(path.read_text(encoding="utf-8"), path.name).channel
    if not somebody_is_there():
        say("Say what each sensor is, or no limit can be judged: bainlog sensor CHANNEL.")
        return
    for channel in channels:
        write_answer(path, channel)

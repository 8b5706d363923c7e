"""``ports``: what is plugged in, what it says, and a bench file for it."""

import functools
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import click

from logger.cli.options import data_option, json_option, print_json, say
from logger.cli.sensor import somebody_is_there, write_answer
from logger.model.errors import InputError
from logger.model.files import bench_from_text
from logger.model.quantity import quantity_at
from logger.ports.finding.columns import columns_text, said_of
from logger.ports.finding.heard import Heard, bench_text, joined_text, with_own
from logger.ports.finding.listen import survey
from logger.ports.shapefiles import free_name, keep_shape, load_shapes
from logger.recorder.care.own_files import replace_text
from logger.recorder.setup import read_text
from logger.store.folder.datafolder import DataFolder
from logger.wire.shapes.shape import Shape
from logger.wire.teaching.marks import Marks
from logger.wire.teaching.registers import format_of, matched
from logger.wire.teaching.taught import cut_lines, taught
from logger.wire.units import quantity_of

LINES_SHOWN = 12
"""Lines of a port that are shown to teach from."""
TOLD_EACH = 5
"""Steps on a port after which it is said how far it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lesson:
    """What a line format is taught from."""

    port: str
    file: Path | None
    marks: Marks
    name: str


def lesson_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add ``--teach`` and what belongs to it; given as `lesson`, None without ``--teach``."""

    @click.option("--teach", metavar="PORT", help="Teach the line format of one port.")
    @click.option(
        "--lines", type=click.Path(path_type=Path), help="With --teach: lines from a file."
    )
    @click.option("--shown", multiple=True, help="With --teach: what the display shows now.")
    @click.option(
        "--moving", multiple=True, help="With --teach: the word for a value that is moving."
    )
    @click.option("--missing", multiple=True, help="With --teach: the word for a missing probe.")
    @click.option("--name", default="", help="With --teach: name of the line format.")
    @functools.wraps(command)
    def packed(
        *,
        teach: str | None,
        lines: Path | None,
        shown: tuple[str, ...],
        moving: tuple[str, ...],
        missing: tuple[str, ...],
        name: str,
        **others: Any,
    ) -> Any:
        lesson = None
        if teach is not None:
            unit = str(others["numbers"] or "")
            marks = Marks(shown=shown, unit=unit, moving=moving, missing=missing)
            lesson = Lesson(port=teach, file=lines, marks=marks, name=name)
        elif lines or shown or moving or missing or name:
            raise InputError("ports", "nothing to teach", "add --teach PORT")
        return command(lesson=lesson, **others)

    return packed


@click.command()
@click.argument("devices", nargs=-1)
@data_option
@click.option("--for", "lasting", default="3 s", show_default=True, help="How long to listen.")
@click.option("--numbers", help="What numbers without a unit are: degC, degF, g, kg, lb or oz.")
@click.option("--columns", default="", help="Columns that are probes: all, or t1,t2.")
@click.option("--write", is_flag=True, help="Write the bench file, or add what is new.")
@lesson_options
@json_option
def ports(
    devices: tuple[str, ...],
    data: Path,
    lasting: str,
    numbers: str | None,
    columns: str,
    write: bool,
    lesson: Lesson | None,
    as_json: bool,
) -> None:
    """List serial ports, listen, and propose a bench file.

    Give DEVICES to listen only to those, even if the system does not list them: a path, or the URL
    of a serial server such as socket://10.0.0.5:4001. --teach PORT shows the lines of one port and
    learns their line format from what its display shows now.
    """
    folder = DataFolder(data)
    seconds = quantity_at("--for", lasting, "s")
    if numbers is not None and quantity_of(numbers) is None:
        raise InputError("--numbers", repr(numbers), "give degC, degF, g, kg, lb or oz")
    shapes = load_shapes(sorted(folder.path.glob("*.shapes.toml")))
    if not as_json:
        say("Listening. Quiet ports are asked too, with questions that only read.", err=True)
    if lesson is not None:
        heard = [_teach(folder.path, lesson, seconds, shapes)]
    else:
        only = bool(devices)
        heard = survey(seconds, devices=devices, shapes=shapes, only=only, progress=_tell)
    shapes = with_own(shapes, heard)
    if numbers is not None:
        heard = [said_of(one, numbers, columns, shapes) for one in heard]
    if as_json:
        print_json([h.as_json() for h in heard])
        return
    if not heard and write:
        raise InputError("ports", "no serial port found", "plug one in, or name a port by its path")
    if not heard:
        say("No serial port found. Plug one in, or name a port by its path.")
        return
    for one in heard:
        say(one.says)
        if one.registers and lesson is None:
            say(f'To say it: bainlog ports --teach {one.device} --shown "21.5 degC" --write')
    _propose(folder, heard, shapes, write)


def _tell(device: str, number: int, of: int) -> None:
    """Say at a terminal how far listening to a port is."""
    if sys.stderr.isatty() and number and number % TOLD_EACH == 0:
        say(f"{device}: step {number} of {of}", err=True)


def _propose(
    folder: DataFolder, heard: list[Heard], shapes: Mapping[str, Shape], write: bool
) -> None:
    """Print the bench file that fits, or write it; into one that is there, what is new."""
    if write and somebody_is_there():
        heard = [_with_unit(one, shapes) for one in heard]
    if not write:
        text = bench_text(heard)
        sys.stdout.write("\n" + text)
        for one in heard:
            if one.format_text:
                say(f"Line format of {one.device}, for a *.shapes.toml beside the bench file:\n")
                sys.stdout.write(one.format_text)
        return
    path = folder.bench_file
    if not any(one.shape for one in heard):
        wanted = "the display says what a register reads: bainlog ports --teach PORT"
        if not any(one.registers for one in heard):
            wanted = "teach lines that are shown as unknown: bainlog ports --teach PORT"
        raise InputError("ports", "no instrument was recognised, so nothing is written", wanted)
    if any(one.units for one in heard) and not any(one.shape and not one.units for one in heard):
        raise InputError(
            "ports", "the numbers have no unit", "say what they are, as in --numbers degC"
        )
    there = read_text(path) if path.exists() else ""
    text = joined_text(heard, there, path.name) if there else bench_text(heard)
    known = bench_from_text(there, path.name).channel if there else ()
    for one in heard:
        if one.format_text:
            say(f"Wrote {keep_shape(folder.path, one.format_name, one.format_text, again=True)}.")
    replace_text(path, text, lambda text: bench_from_text(text, path.name))
    done = f"Added to {path} what was new" if there else f"Wrote {path}"
    say(f"{done}. Say which channel is which (role) before you start.")
    _ask_what_they_are(path, {channel.id for channel in known})


def _teach(folder: Path, lesson: Lesson, seconds: float, shapes: Mapping[str, Shape]) -> Heard:
    """Make a line format of the lines of a port, keep it, and return the port as heard by it."""
    if lesson.file is not None:
        text = read_text(lesson.file).encode("utf-8").decode("latin-1")
        heard = Heard(port=lesson.port, device=lesson.port, description="", text="\n" + text)
    else:
        devices = [lesson.port]
        heard = survey(seconds, devices=devices, shapes=shapes, only=True, progress=_tell)[0]
    if heard.registers:
        return _teach_registers(folder, lesson, heard)
    if heard.error:
        raise InputError(lesson.port, heard.error, "then try again")
    raw, _ = cut_lines(heard.text.encode("latin-1"))
    for line in raw[-LINES_SHOWN:]:
        say(f"  {line.decode('latin-1')}")
    marks = lesson.marks
    if not marks.shown and somebody_is_there():
        shown = click.prompt("What does the display show now? With its unit, as in 21.5 degC")
        marks = replace(marks, shown=(shown,))
    made = taught(
        heard.text.encode("latin-1"),
        marks,
        name=lesson.name or free_name(folder),
        port=heard.line,
    )
    path = keep_shape(folder, made.name, made.text)
    say(f"Wrote {path}: {made.says}")
    return heard.taught(made.shape, made.fields)


def _teach_registers(folder: Path, lesson: Lesson, heard: Heard) -> Heard:
    """Make a line format of the registers that a display shows, and keep it."""
    say(f"  {heard.says}")
    shown = lesson.marks.shown
    if not shown and somebody_is_there():
        shown = (click.prompt("What does the display show now? With its unit, as in 21.5 degC"),)
    if not shown:
        raise InputError("display", "not given", 'say what it shows, as in --shown "21.5 degC"')
    registers = matched(heard.registers, shown, lesson.marks.unit)
    name = lesson.name or free_name(folder)
    path = keep_shape(folder, name, format_of(heard.registers_text, name, registers))
    say(f"Wrote {path}.")
    return heard.said(registers, name)


def _with_unit(one: Heard, shapes: Mapping[str, Shape]) -> Heard:
    """Ask a person what numbers without a unit are."""
    if not one.units:
        return one
    nothing = "something else"
    says = f"{one.device} prints {one.sample!r}. Which unit are its numbers in?"
    said = click.prompt(says, type=click.Choice([*one.units, nothing]))
    if said == nothing:
        return one
    columns = ""
    if len(one.fields) > 1:
        columns = click.prompt(
            f"Which of them are probes: {columns_text(one)}? all, or their names"
        )
    return said_of(one, said, columns, shapes)


def _ask_what_they_are(path: Path, known: set[str]) -> None:
    """Ask for the type and class of each new sensor, where somebody sits at the command."""
    channels = bench_from_text(path.read_text(encoding="utf-8"), path.name).channel
    if not somebody_is_there():
        say("Say what each sensor is, or no limit can be judged: bainlog sensor CHANNEL.")
        return
    for channel in channels:
        if channel.id not in known:
            write_answer(path, channel)

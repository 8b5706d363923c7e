"""``sensor``: what a sensor is. ``sensor-check``: it at a known temperature or mass, or its lag.

The check records a short run as the evidence, looks at the uncorrected readings, and offers the
dated correction for the bench file.
"""

import contextlib
import sys
import threading
from collections.abc import Mapping
from pathlib import Path

import click
import numpy as np
from numpy.typing import NDArray

from logger.cli.options import data_option, json_option, print_json, say
from logger.cli.start import bench_path
from logger.control.client import Client, GoneError, RefusedError
from logger.control.sensor_answer import (
    DONT_KNOW,
    PROBE_TYPES,
    SCALE_CLASSES,
    WIRE_CLASSES,
    has_wire,
    sensor_text,
)
from logger.correct.check import SHORTEST_S
from logger.model.bench import ROLE_LABELS, Channel
from logger.model.errors import InputError
from logger.model.files import bench_from_text
from logger.model.quantity import quantity_at
from logger.recorder.care.own_files import save_correction, save_lag, save_role, save_sensor
from logger.recorder.care.sensor_check import (
    HOW,
    SHEET,
    bare_readings,
    checked,
    plunged,
    reference_of,
)
from logger.recorder.keeper import Keeper
from logger.recorder.launch import RecorderProcess, start_process
from logger.recorder.live.clocks import today
from logger.recorder.setup import read_text
from logger.store.folder.datafolder import DataFolder
from logger.words.durations import exact_duration


@click.command()
@click.argument("channel")
@click.option("--role", help="What it measures: fat, water, core, bath_scale...")
@click.option(
    "--type", "type_", help="Type of a probe: K, J, T..., platinum, other; or don't know."
)
@click.option("--class", "class_", help="Class of thermocouple wire or of a scale; or don't know.")
@click.option("--accuracy", help="Accuracy of another kind of probe, such as '0.5 K'.")
@click.option("--interval", help="Verification interval e of a scale, such as '1 g'.")
@click.option("--bench", type=click.Path(path_type=Path, dir_okay=False), help="Bench file.")
@data_option
def sensor(
    channel: str,
    role: str | None,
    type_: str | None,
    class_: str | None,
    accuracy: str | None,
    interval: str | None,
    bench: Path | None,
    data: Path,
) -> None:
    """Record what a sensor is: its role, type and class are saved in the bench file.

    It asks for what you leave out. "don't know" is an answer: the widest published class of the
    type is then used, and every verdict from the sensor is marked as assumed.
    """
    folder = DataFolder(data)
    file = bench_path(folder, bench)
    known = {c.id: c for c in bench_from_text(read_text(file), file.name).channel}
    if channel not in known:
        raise InputError(
            "channel", f"no {channel!r} in the bench", f"write one of {', '.join(known)}"
        )
    if role is not None:
        other = save_role(file, channel, role)
        swapped = f"; {other}, which had it, has the other's role now" if other else ""
        say(f"{channel} is {ROLE_LABELS[role]}{swapped}.")
    write_answer(file, known[channel], type_, class_, accuracy or interval)
    _let_recorder_use(folder, file, channel)


def _let_recorder_use(folder: DataFolder, file: Path, channel_id: str) -> None:
    """Let a recorder that runs go on with the file as it is now, or say what to do."""
    restart = "start bainlog again to use it"
    with Client(folder.path) as client:
        try:
            recording = client.state().phase == "recording"
            if recording:
                say(f"A batch is being recorded with the sensors as they were: end it, {restart}.")
            elif file.resolve() != folder.bench_file.resolve():
                say(f"A recorder is running: {restart}.")
            else:
                fresh = bench_from_text(read_text(file), file.name).channel
                role = next(c.role for c in fresh if c.id == channel_id)
                client.send("set_role", channel=channel_id, role=role)
                say("The recorder that is running uses it from now on.")
        except GoneError:
            return  # none is running
        except RefusedError as cause:
            say(f"The recorder that is running does not use it yet ({cause}): {restart}.")


def write_answer(
    file: Path,
    channel: Channel,
    type_: str | None = None,
    class_: str | None = None,
    size: str | None = None,
) -> None:
    """Ask for what is missing of a sensor's type and class, and write it into the bench file.

    Parameters
    ----------
    file : Path
        The bench file.
    channel : Channel
        Of the sensor.
    type_, class_, size : str or None
        Answers that are known, as ``sensor_answer.sensor_of`` takes them.
    """
    scale = channel.unit == "g"
    if scale:
        type_ = ""
    elif type_ is None:
        type_ = _asked(channel, "type", PROBE_TYPES)
    wire = not scale and has_wire(type_)
    if class_ is None and (wire or scale):
        class_ = _asked(channel, "class", SCALE_CLASSES if scale else WIRE_CLASSES)
    if size is None and not wire and (class_ if scale else type_) != DONT_KNOW:
        size = _asked(
            channel,
            "verification interval e, such as '1 g'" if scale else "accuracy, such as '0.5 K'",
        )
    found = save_sensor(file, channel.id, type_=type_, class_=class_ or "", size=size or "")
    wide = "; the widest published class is used, and verdicts are marked as assumed"
    say(f"{channel.id}: {sensor_text(found)}{wide if found.assumed else ''}")


def somebody_is_there() -> bool:
    """Return whether a person sits at the command and can be asked."""
    return sys.stdin.isatty()


def _asked(channel: Channel, what: str, answers: Mapping[str, str] | None = None) -> str:
    """Ask a person; a command nobody sits at says what is missing instead.

    Raises
    ------
    InputError
        If there is nobody to ask.
    """
    listed = f" ({', '.join(answers)})" if answers else f", or {DONT_KNOW}"
    if not somebody_is_there():
        raise InputError(f"{channel.id}: {what}", "not given", f"give it{listed}")
    kind = click.Choice(list(answers)) if answers else None
    text = f"{channel.id}, {channel.name}: {what}{'' if answers else listed}"
    return str(click.prompt(text, type=kind))


@click.command("sensor-check")
@click.argument("channel")
@click.option("--ice", is_flag=True, help="In an ice bath, 0 °C.")
@click.option("--boil", is_flag=True, help="In boiling water; give --pressure or --altitude.")
@click.option("--weight", help="With a check weight, for example '2 kg'.")
@click.option("--plunge", is_flag=True, help="Measure the probe's time constant.")
@click.option("--pressure", help="Station pressure, such as '98.2 kPa', not the sea-level one.")
@click.option(
    "--altitude", help="Altitude, for example '340 m'; weather shifts the result by up to 0.8 K."
)
@click.option("--for", "lasting", default="60 s", show_default=True, help="How long to read.")
@click.option("--bench", type=click.Path(path_type=Path, dir_okay=False), help="Bench file.")
@click.option("--write", is_flag=True, help="Write the result into the bench file.")
@data_option
@json_option
def sensor_check(
    channel: str,
    ice: bool,
    boil: bool,
    weight: str | None,
    plunge: bool,
    pressure: str | None,
    altitude: str | None,
    lasting: str,
    bench: Path | None,
    write: bool,
    data: Path,
    as_json: bool,
) -> None:
    """Check a sensor in ice water, in boiling water or with a weight, or time a probe's lag.

    Shows the offset, or a probe's time constant, with its uncertainty and the line for the bench
    file; --write saves it there with the date.
    """
    way = _one_way(ice=ice, boil=boil, weight=weight is not None, plunge=plunge)
    reference = reference_of(way, weight=weight, pressure=pressure, altitude=altitude)
    if reference.remark:
        say(reference.remark, err=True)
    seconds = quantity_at("--for", lasting, "s")
    if way != "plunge" and seconds < SHORTEST_S:
        raise InputError(
            "--for", exact_duration(seconds), f"give at least {exact_duration(SHORTEST_S)}"
        )
    folder = DataFolder(data)
    file = bench_path(folder, bench)
    say(HOW[way], err=True)
    found, time_s, shown = _read(folder, file, channel, seconds)
    if way == "plunge":
        probe = plunged(found, time_s, shown, today())
        says, line = probe.says, f"lag = {probe.lag}"
        if write:
            save_lag(file, channel, probe.lag)
            says += f"; written into {file.name}, used from the next start"
        _tell(
            as_json,
            {"time_constant_s": probe.time_constant_s, "u": probe.u_s, "line": line},
            says,
            line,
        )
        return
    result = checked(found, time_s, shown, reference, today())
    says, line = result.says, f"correction = {result.correction}"
    if write:
        save_correction(file, channel, result.correction)
        says += f"; written into {file.name}, used from the next start"
    _tell(
        as_json,
        {
            "offset": result.offset,
            "u": result.u,
            "shown": result.shown,
            "reference": result.reference,
            "line": line,
        },
        says,
        line,
    )


def _tell(as_json: bool, record: dict[str, object], says: str, line: str) -> None:
    if as_json:
        print_json(record)
    else:
        say(says)
        say(line)


def _one_way(**ways: bool) -> str:
    chosen = [name for name, wanted in ways.items() if wanted]
    if len(chosen) != 1:
        raise InputError(
            "sensor-check",
            "nothing chosen" if not chosen else f"{len(chosen)} were chosen",
            "choose one of --ice, --boil, --weight, --plunge",
        )
    return chosen[0]


def _read(
    folder: DataFolder, file: Path, channel_id: str, seconds: float
) -> tuple[Channel, NDArray[np.float64], NDArray[np.float64]]:
    """Record for a while; return the channel and its uncorrected readings."""

    def begun() -> RecorderProcess:
        # However this command ends, the recorder that it started ends with it and saves.
        return start_process(folder.path, file, with_parent=True)

    keeper = Keeper(folder.path, begun, click.echo)
    with keeper, Client(folder.path) as client:
        try:
            if client.state().phase == "recording":
                raise InputError("sensor-check", "a run is being recorded", "end it first")
        except GoneError:
            keeper.take_alone()
            keeper.start(begun())
        known = [c["id"] for c in client.ask("describe")["bench"]["channel"]]
        if channel_id not in known:
            raise InputError("channel", repr(channel_id), "the bench has " + ", ".join(known))
        run_id = client.send("start", sheet=SHEET)["run"]
        pause = threading.Event()
        while client.state().t_s < seconds:
            with contextlib.suppress(KeyboardInterrupt):
                pause.wait(0.2)
        client.send("run_end")
    with folder.view(run_id) as view:
        return bare_readings(view, channel_id)

"""``sensor-check``: a channel at a known temperature or mass; a probe's time constant.

Records a short run as the evidence, looks at the uncorrected readings, and offers the dated
correction for the bench file.
"""

import contextlib
import threading
from pathlib import Path

import click
import numpy as np
from numpy.typing import NDArray

from logger.cli.options import data_option, json_option, print_json
from logger.cli.start import bench_path
from logger.control.client import Client, GoneError
from logger.correct.check import SHORTEST_S
from logger.model.bench import Channel
from logger.model.errors import InputError
from logger.recorder.care.own_files import save_correction, save_lag
from logger.recorder.care.sensor_check import (
    HOW,
    SHEET,
    bare_readings,
    checked,
    plunged,
    quantity,
    reference_of,
)
from logger.recorder.keeper import Keeper
from logger.recorder.launch import start_process
from logger.recorder.live.clocks import today
from logger.store.folder.datafolder import DataFolder
from logger.words.durations import exact_duration


@click.command("sensor-check")
@click.argument("channel")
@click.option("--ice", is_flag=True, help="In an ice bath, 0 °C.")
@click.option("--boil", is_flag=True, help="In boiling water; give --pressure or --altitude.")
@click.option("--weight", help="With a check weight, for example '2 kg'.")
@click.option("--plunge", is_flag=True, help="Measure the probe's time constant.")
@click.option("--pressure", help="Station pressure, as '98.2 kPa'; not the sea-level one.")
@click.option("--altitude", help="Altitude, for example '340 m'; weather moves this by 0.8 K.")
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
    """Check a channel at the ice point, the boiling point or a check weight; time a probe.

    Says the offset, or a probe's time constant, with its uncertainty and the line for the bench
    file; --write puts it there, dated.
    """
    way = _one_way(ice=ice, boil=boil, weight=weight is not None, plunge=plunge)
    reference = reference_of(way, weight=weight, pressure=pressure, altitude=altitude)
    if reference.remark:
        click.echo(reference.remark, err=True)
    seconds = quantity("--for", lasting, "s")
    if way != "plunge" and seconds < SHORTEST_S:
        raise InputError(
            "--for", exact_duration(seconds), f"give at least {exact_duration(SHORTEST_S)}"
        )
    folder = DataFolder(data)
    file = bench_path(folder, bench)
    click.echo(HOW[way], err=True)
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
        click.echo(says)
        click.echo(line)


def _one_way(**ways: bool) -> str:
    chosen = [name for name, wanted in ways.items() if wanted]
    if len(chosen) != 1:
        raise InputError(
            "sensor-check",
            f"{len(chosen)} ways given",
            "give one of --ice, --boil, --weight, --plunge",
        )
    return chosen[0]


def _read(
    folder: DataFolder, file: Path, channel_id: str, seconds: float
) -> tuple[Channel, NDArray[np.float64], NDArray[np.float64]]:
    """Record for a while; return the channel and its uncorrected readings."""
    keeper = Keeper(folder.path, lambda: start_process(folder.path, file), click.echo)
    with keeper, Client(folder.path) as client:
        try:
            if client.state().phase == "recording":
                raise InputError("sensor-check", "a run is being recorded", "end it first")
        except GoneError:
            keeper.take_alone()
            keeper.start(start_process(folder.path, file))
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

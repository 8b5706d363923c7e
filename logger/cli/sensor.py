"""``sensor-check``: a channel at a known temperature or mass; a probe's time constant.

Records a short run as the evidence, looks at the uncorrected readings, and offers the dated
correction for the bench file.
"""

import contextlib
import datetime
import threading
from pathlib import Path

import click
import numpy as np
from numpy.typing import NDArray

from logger.cli.options import data_option, json_option, print_json
from logger.cli.start import bench_path, end_process
from logger.control.client import Client, GoneError
from logger.correct.channel import Corrector
from logger.correct.check import SHORTEST_S, check_readings
from logger.model.bench import Channel
from logger.model.errors import InputError
from logger.model.quantity import number_in
from logger.recorder.launch import start_process
from logger.recorder.own_files import save_correction
from logger.science.plunge import fit_plunge
from logger.science.reference_points import (
    ICE_POINT_C,
    STANDARD_PRESSURE_KPA,
    U_ICE_BATH_K,
    boiling_check,
)
from logger.science.water import boiling_point_c
from logger.store.datafolder import DataFolder

SHEET = """
[sheet]
name = "Sensor check"
product = "sensor check"
"""
U_WEIGHT_SHARE = 50e-6 / 3**0.5
"""Standard uncertainty of a check weight of class M1, as a share: 50 mg/kg of 1 kg (OIML R 111-1,
table 1), even."""

HOW = {
    "ice": "Probe into stirred slush of crushed ice and clean water, not touching ice or wall.",
    "boil": "Probe into a rolling boil of clean water, not touching the pot. Mind the steam.",
    "weight": "Tare the empty scale, put the check weight on, and leave it alone.",
    "plunge": "Probe in air now; in a few seconds plunge it into stirred warm water and leave it.",
}


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
@click.option("--write", is_flag=True, help="Write the correction into the bench file.")
@data_option
@json_option
def sensor_check(
    channel: str, ice: bool, boil: bool, weight: str | None, plunge: bool, pressure: str | None,
    altitude: str | None, lasting: str, bench: Path | None, write: bool, data: Path, as_json: bool,
) -> None:  # fmt: skip
    """Check a channel at the ice point, the boiling point or a check weight.

    Says the offset with its uncertainty and the line for the bench file; --write puts it there.
    """
    way = _one_way(ice=ice, boil=boil, weight=weight is not None, plunge=plunge)
    reference, u_reference, by = _reference(way, weight, pressure, altitude)
    if way == "boil":
        click.echo(_why_not_hundred(reference), err=True)
    seconds = _quantity("--for", lasting, "s")
    if way != "plunge" and seconds < SHORTEST_S:
        raise InputError("--for", f"{seconds:g} s", f"give at least {SHORTEST_S:g} s")
    folder = DataFolder(data)
    file = bench_path(folder, bench)
    click.echo(HOW[way], err=True)
    found, time_s, shown = _read(folder, file, channel, seconds)
    if way == "plunge":
        probe = fit_plunge(time_s, shown)
        line = f'time_constant = "{probe.time_constant_s:.2g} s"'
        says = (
            f"{channel}: time constant {probe.time_constant_s:.2g} ± "
            f"{2 * probe.u_time_constant_s:.1g} s in stirred water; thick food is slower"
        )
        _tell(as_json, {"time_constant_s": probe.time_constant_s, "line": line}, says, line)
        return
    result = check_readings(
        time_s, shown, reference=reference, u_reference=u_reference, unit=found.unit,
        step=found.resolution or 0.0,
    )  # fmt: skip
    sign = "offset" if found.unit == "degC" else "offset_mass"
    unit = "K" if found.unit == "degC" else "g"
    today = datetime.datetime.now().astimezone().date()
    correction = (
        f'{{ {sign} = "{result.offset:.3g} {unit}", checked = {today}, by = "{by}", '
        f"u = {result.u:.2g} }}"
    )
    says = (
        f"{channel} showed {result.shown:.2f} {found.unit} at {result.reference:.2f}: add "
        f"{result.offset:+.2f} ± {2 * result.u:.2f} {unit}"
    )
    if write:
        save_correction(file, channel, correction)
        says += f"; written into {file.name}, used from the next start"
    _tell(as_json, {"offset": result.offset, "u": result.u, "shown": result.shown,
                    "reference": result.reference, "line": f"correction = {correction}"},
          says, f"correction = {correction}")  # fmt: skip


def _tell(as_json: bool, record: dict[str, object], says: str, line: str) -> None:
    if as_json:
        print_json(record)
    else:
        click.echo(says)
        click.echo(line)


def _one_way(**ways: bool) -> str:
    chosen = [name for name, wanted in ways.items() if wanted]
    if len(chosen) != 1:
        raise InputError("sensor-check", f"{len(chosen)} ways given", "give one of --ice, --boil, "
                         "--weight, --plunge")  # fmt: skip
    return chosen[0]


def _quantity(option: str, text: str, unit: str) -> float:
    try:
        return number_in(text, unit)
    except ValueError as cause:
        raise InputError(option, str(cause), "mend it") from cause


def _reference(
    way: str, weight: str | None, pressure: str | None, altitude: str | None
) -> tuple[float, float, str]:
    """Return the known value, its standard uncertainty, and what it is called."""
    if way == "ice":
        return ICE_POINT_C, U_ICE_BATH_K, "ice point"
    if way == "weight":
        mass_g = _quantity("--weight", weight or "", "g")
        return mass_g, mass_g * U_WEIGHT_SHARE, f"check weight {mass_g:g} g"
    if way == "plunge":
        return 0.0, 0.0, "plunge"
    if pressure is None and altitude is None:
        raise InputError("--boil", "no pressure", "give --pressure or --altitude")
    boiling_c, u_k = boiling_check(
        pressure_kpa=None if pressure is None else _quantity("--pressure", pressure, "kPa"),
        altitude_m=None if altitude is None else _quantity("--altitude", altitude, "m"),
    )
    return boiling_c, u_k, f"boiling point {boiling_c:.2f} degC"


def _why_not_hundred(boiling_c: float) -> str:
    """Explain the boiling point of this place and day."""
    return (
        f"Water boils at {boiling_c:.2f} °C at this pressure; at sea level in average weather it "
        f"would be {boiling_point_c(STANDARD_PRESSURE_KPA):.2f} °C. Not an error of the probe."
    )


def _read(
    folder: DataFolder, file: Path, channel_id: str, seconds: float
) -> tuple[Channel, NDArray[np.float64], NDArray[np.float64]]:
    """Record for a while; return the channel and its uncorrected readings."""
    recorder = None
    with Client(folder.path) as client:
        try:
            if client.state()["phase"] == "recording":
                raise InputError("sensor-check", "a run is being recorded", "end it first")
        except GoneError:
            recorder = start_process(folder.path, file)
        try:
            known = [c["id"] for c in client.ask("describe")["bench"]["channel"]]
            if channel_id not in known:
                raise InputError("channel", repr(channel_id), "the bench has " + ", ".join(known))
            run_id = client.send("start", sheet=SHEET)["run"]
            pause = threading.Event()
            while client.state()["t_s"] < seconds:
                with contextlib.suppress(KeyboardInterrupt):
                    pause.wait(0.2)
            client.send("run_end")
        finally:
            if recorder is not None:
                end_process(recorder)
    with folder.view(run_id) as view:
        channel = next(c for c in view.bench().channel if c.id == channel_id)
        bare = channel.model_copy(update={"correction": None})
        series = view.readings(channel_id)
        shown, _ = Corrector(bare, view.header.started_date).values(
            series.value, series.cold_junction, view.header.unit_of(channel_id)
        )
        return channel, series.t_ns / 1e9, shown

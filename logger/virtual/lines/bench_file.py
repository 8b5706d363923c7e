"""The bench file and the batch sheet that belong to a virtual batch.

Pure text. The bench file names the ports, the line shapes and what the probes and scales are good
for; the sheet is the shipped one with the fat, the lots and the masses of this batch.
"""

import datetime
import json
import re
from collections.abc import Sequence

from logger.virtual.batch.circumstances import FAT_G
from logger.virtual.batch.scenario import plain_sheet
from logger.virtual.lines.printed import THERMOCOUPLE, Printer
from logger.virtual.readings.simulate import SimulatedRun
from logger.virtual.readings.traces import PROBE_OFFSET_K, SCALE_CHANNELS

_LABELS = {"oven": "Oven air"}
_LINEARITY = {"bowl_scale": "0.2 g", "bath_scale": "0.2 g", "bench_scale": "0.03 g"}
_RESOLUTION = {"bench_scale": 0.01, "core": 0.01, "room": 0.01}
_REPEATABILITY = {"bowl_scale": 0.05, "bath_scale": 0.1, "bench_scale": 0.006}
_TIME_CONSTANT = {"fat": "3.5 s", "water": "3.5 s", "emulsion": "4 s", "bath": "4 s", "core": "6 s"}
_COCONUT = """name = "coconut fat"
phase = "fat"
fat = "coconut_oil"
mass = "180 g"
tolerance = "1 %"
lot = "KF-0533"
price = "6.90 EUR/kg"
"""


def bench_text(
    run: SimulatedRun, instruments: Sequence[tuple[Printer, str]], checked: datetime.date
) -> str:
    """Return a bench file.

    Parameters
    ----------
    run : SimulatedRun
        For the room.
    instruments : sequence of (Printer, str)
        Each with its port.
    checked : date
        When the probes were last checked.
    """
    lines = [
        "[bench]",
        'name = "Virtual bench"',
        "",
        "[place]",
        f'room = "{run.script.circumstances.room_c:.0f} degC"',
        'station_pressure = "98.6 kPa"',
    ]
    for printer, port in instruments:
        wiring = printer.wiring
        lines += [
            "",
            "[[instrument]]",
            f'id = "{wiring.id}"',
            f"port = {json.dumps(port)}",
            f"shape = {json.dumps(wiring.shape)}",
            f'settings = {{ baud = {wiring.baud}, bits = 8, parity = "N", stop = 1 }}',
        ]
        if printer.shape.decode == "modbus":
            lines.append(f"device = {printer.shape.device}")
        for channel in wiring.channels:
            lines += ["", *_channel(channel, printer, checked)]
    return "\n".join(lines) + "\n"


def _channel(channel: str, printer: Printer, checked: datetime.date) -> list[str]:
    lines = [
        "[[channel]]",
        f'id = "{channel}"',
        f'instrument = "{printer.wiring.id}"',
        f'field = "{printer.field_of[channel]}"',
        f'role = "{"other" if channel in _LABELS else channel}"',
    ]
    if channel in _LABELS:
        lines.append(f'label = "{_LABELS[channel]}"')
    lines.append(f"resolution = {_RESOLUTION.get(channel, 0.1)}")
    lines.append(f"repeatability = {_REPEATABILITY.get(channel, 0.04)}")
    if channel in SCALE_CHANNELS:
        return [*lines, f'sensor = {{ kind = "balance", linearity = "{_LINEARITY[channel]}" }}']
    lag = f', time_constant = "{_TIME_CONSTANT[channel]}"' if channel in _TIME_CONSTANT else ""
    lines.append(
        f'sensor = {{ kind = "thermocouple", type = "{THERMOCOUPLE}", class = 1, '
        f'cold_junction = "0.25 K"{lag} }}'
    )
    if channel in PROBE_OFFSET_K:
        lines.append(
            f'correction = {{ offset = "{-PROBE_OFFSET_K[channel]:g} K", '
            f'checked = {checked.isoformat()}, by = "ice point", u = 0.1 }}'
        )
    return lines


def sheet_text(run: SimulatedRun) -> str:
    """Return the batch sheet of a virtual batch, as the cook wrote it before it."""
    batch = run.script.circumstances
    text = plain_sheet(run.short)
    if batch.fat == "coconut_oil":
        text = re.sub(r'name = "cocoa butter"\n(?:.+\n)+', _COCONUT, text, count=1)
    for ingredient in batch.new_lots:
        text = re.sub(
            rf'(name = "{ingredient}"\n(?:.+\n)*?lot = ")([A-Z]+)-(\d+)"',
            lambda m: f'{m[1]}{m[2]}-{int(m[3]) + 113:04d}"',
            text,
            count=1,
        )
    if batch.fat_g > 1.1 * FAT_G:
        text = text.replace('mass = "180 g"', f'mass = "{round(batch.fat_g)} g"', 1)
    if run.short:
        masses = [run.truth["immersions"][i]["mass_in_g"] for i in range(len(batch.piece_g))]
        listed = ", ".join(f'"{mass_g:.1f} g"' for mass_g in masses)
        text = re.sub(r"piece_masses = \[.*\]", f"piece_masses = [{listed}]", text)
    return text

"""Every line shape can be spoken, and reads back to the values that the bench had."""

import numpy as np
import pytest

from logger.model.bench import PortSettings
from logger.model.errors import InputError
from logger.model.reading import RawReading
from logger.science.metrology.its90 import temperature_c
from logger.virtual.lines.printed import THERMOCOUPLE, Printer
from logger.virtual.readings.simulate import simulate
from logger.virtual.readings.traces import OVEN, Wiring
from logger.wire.emit import Emitter
from logger.wire.modbus import on_the_wire, plan_of, request_bytes
from logger.wire.reader import LineReader
from tests.wire.written import written_shapes

SHAPES = written_shapes()
WEIGHTS = [n for n, s in SHAPES.items() if any(f.quantity == "mass" for f in s.channel.values())]
PROBES = [n for n in SHAPES if n not in WEIGHTS]


@pytest.fixture(scope="module")
def run():
    return simulate(
        21,
        faults=[
            "open@60+20:fat",
            "ground@100+20:fat",
            "overload@60+5:bowl_scale",
            "unit@80+10:bowl_scale",
        ],
        short=True,
        oven=True,
    )


def _back(printer: Printer, number: int) -> dict[str, RawReading]:
    """Print one sample and read it; for an asked instrument as an answer to its question."""
    shape = printer.shape
    reader = LineReader(shape, settings=PortSettings(), delay_s=0.0)
    reader.reset(0)
    if shape.decode == "modbus":
        found = {}
        for request, _ in plan_of(shape):
            question = on_the_wire(shape, request_bytes(shape.device, request))
            for x in reader.feed(question + printer.reply(question, number), 10**9):
                if isinstance(x, RawReading):
                    found[x.field] = x
        return found
    data = printer.line(number)
    if any(field.unit_group for field in shape.channel.values()):
        # A unit that is left blank is the one that was printed before.
        unit = printer._said(number)[1].get("unit")
        reader.feed(Emitter(shape).line({"mass": 1.0}, unit=unit), 10**9)
    if shape.ask != "none":
        assert printer.reply(shape.ask.send.encode(), number) == data
    return {x.field: x for x in reader.feed(data, 10**9) if isinstance(x, RawReading)}


def _step(shape_field) -> float:
    """Half the step in which a field is printed."""
    digits = shape_field.write.split(".")[-1]
    if "E" in shape_field.write:
        return 0.51e-4
    return 0.51 * 10.0 ** -int(digits.rstrip("f"))


@pytest.mark.parametrize("name", WEIGHTS)
def test_a_scale_of_any_shape_reads_back(run, name):
    wiring = Wiring(id="bowl_scale", shape=name, rate_hz=10.0, channels=("bowl_scale",))
    printer = Printer(wiring, SHAPES[name], run)
    trace = run.full["bowl_scale"]
    for number in range(0, len(trace.t_s), 97):
        reading = _back(printer, number).get("mass")
        assert reading is not None
        if np.isnan(trace.value[number]):
            assert reading.value is None
            continue
        step = 28.35 * _step(SHAPES[name].channel["mass"]) if 80 <= trace.t_s[number] < 90 else 0.0
        tolerance = max(step, _step(SHAPES[name].channel["mass"]))
        assert reading.unit == "g"
        assert reading.value == pytest.approx(trace.value[number], abs=tolerance + 1e-9)


@pytest.mark.parametrize("name", PROBES)
def test_a_reader_of_any_shape_reads_back(run, name):
    shape = SHAPES[name]
    fields = [f for f in shape.channel if f != "cj"]
    channels = ("fat", "water", "emulsion", "bath")[: len(fields)]
    printer = Printer(Wiring(id="probes", shape=name, rate_hz=5.0, channels=channels), shape, run)
    for number in range(0, 1800, 41):
        found = _back(printer, number)
        for channel, field in zip(channels, fields, strict=False):
            true_c, reading = run.full[channel].value[number], found[field]
            if np.isnan(true_c):
                assert reading.value is None
                continue
            value = reading.value
            if reading.unit == "uV":
                value = temperature_c(THERMOCOUPLE, 1e-3 * value, reading.cold_junction_c)
            sent = _step(shape.channel[field]) if shape.decode == "lines" else 0.051
            assert value == pytest.approx(true_c, abs=sent + 0.005)


def test_registers_of_the_oven_read_back(run):
    printer = Printer(OVEN, SHAPES[OVEN.shape], run)
    assert _back(printer, 40)["t1"].value == pytest.approx(run.full["oven"].value[40], abs=0.051)


def test_bridged_inputs_of_a_converter_board_show_the_cold_junction(run):
    shape = SHAPES["one object per line, microvolts"]
    wiring = Wiring(id="core_reader", shape=shape.name, rate_hz=5.0, channels=("core", "room"))
    reading = _back(Printer(wiring, shape, run), 30)["t4"]
    assert reading.value == 0.0


def test_after_the_batch_the_samples_go_on_and_move(run):
    wiring = Wiring(id="bath_scale", shape="flag-first comma weight", rate_hz=10.0,
                    channels=("bath_scale",))  # fmt: skip
    printer = Printer(wiring, SHAPES[wiring.shape], run)
    count = len(run.full["bath_scale"].t_s)
    assert printer.time_s(count + 50) == pytest.approx(printer.time_s(count - 1) + 5.1)
    assert len({printer.line(count + i) for i in range(100)}) > 2


def test_a_shape_with_too_few_fields_is_refused(run):
    wiring = Wiring(id="probes", shape="x", rate_hz=5.0, channels=("fat", "water"))
    with pytest.raises(InputError, match="has 1 fields; it needs 2"):
        Printer(wiring, SHAPES["comma list of 1 probe"], run)

"""Faults are read from text, change values or bytes, and never invent a reading."""

import numpy as np
import pytest

from logger.model.bench import PortSettings
from logger.model.errors import InputError
from logger.model.reading import Flag, RawReading
from logger.virtual.lines.line_faults import spoiled
from logger.virtual.lines.printed import Printer
from logger.virtual.readings.faults import FAULTS, parse_fault
from logger.virtual.readings.simulate import simulate, wirings_of
from logger.wire.reader import LineReader
from logger.wire.shapes.shape import builtin_shapes


def test_a_fault_is_read_with_time_length_and_target():
    fault = parse_fault("unplug@300+20:bowl_scale")
    assert (fault.name, fault.at_s, fault.for_s, fault.target) == (
        "unplug",
        300.0,
        20.0,
        "bowl_scale",
    )


def test_a_fault_without_length_and_target_takes_the_usual_ones():
    fault = parse_fault("open@90")
    assert (fault.for_s, fault.target) == (FAULTS["open"].for_s, "fat")


@pytest.mark.parametrize("text", ["unplug", "unplug@", "unplug@-3", "@3", "", "unplug@3:", "a b@3"])
def test_a_misspelt_fault_is_answered_with_all_names(text):
    with pytest.raises(InputError) as told:
        parse_fault(text)
    assert all(name in str(told.value) for name in FAULTS)


def test_an_unknown_name_or_target_is_answered_with_the_known_ones():
    with pytest.raises(InputError, match=r"no fault 'unplugged'; give one of unplug, wrong_device"):
        parse_fault("unplugged@3")
    with pytest.raises(InputError, match=r"no instrument 'fat'; give one of probes"):
        parse_fault("unplug@3:fat")


@pytest.mark.parametrize("name", [n for n, k in FAULTS.items() if k.where != "line"])
def test_a_fault_of_values_strikes_its_channel_and_its_span_alone(name):
    fault = parse_fault(f"{name}@100+40")
    plain, struck = simulate(8, short=True), simulate(8, faults=[fault], short=True)
    also = {"fat", "water"} if name == "swapped" else {fault.target}
    for channel, trace in struck.channels.items():
        was = plain.channels[channel]
        same = np.isclose(trace.value, was.value, rtol=0, atol=1e-9, equal_nan=True)
        same &= trace.flags == was.flags
        inside = (trace.t_s >= 100.0) & (trace.t_s < 140.0)
        assert same[~inside].all(), channel
        if channel not in also:
            assert same.all(), channel
        elif name != "unit":
            assert not same[inside].all(), channel
    if name == "unit":
        assert struck.channels[fault.target].units == [(100.0, 140.0, "oz")]


@pytest.mark.parametrize(
    ("name", "flag"),
    [
        ("open", Flag.OPEN),
        ("ground", Flag.FAULT),
        ("overload", Flag.OVER),
        ("underload", Flag.UNDER),
    ],
)
def test_no_value_is_given_where_there_is_none(name, flag):
    fault = parse_fault(f"{name}@100+10")
    trace = simulate(8, faults=[fault], short=True).channels[fault.target]
    span = trace.span(100.0, 110.0)
    assert np.isnan(trace.value[span]).all()
    assert (trace.flags[span] & int(flag)).all()


def _read(run, instrument: str, name: str, at_s: float, for_s: float):
    """Print an instrument, spoil its lines by a fault, read them back; what was read and sent."""
    wiring = next(w for w in wirings_of(run) if w.id == instrument)
    shape = builtin_shapes()[wiring.shape]
    printer = Printer(wiring, shape, run)
    reader = LineReader(shape, settings=PortSettings(), delay_s=0.0)
    reader.reset(0)  # opened a second before the first line
    rng = np.random.default_rng(1)
    got: list[RawReading] = []
    sent: list[dict[str, float]] = []
    place = 0
    for number in range(int(60 * wiring.rate_hz)):
        t_s = printer.time_s(number)
        line = printer.line(number)
        sent.append({c: float(run.full[c].value[number]) for c in wiring.channels})
        if at_s <= t_s < at_s + for_s:
            last = printer.time_s(number + 1) >= at_s + for_s
            parts = spoiled(name, line, place, last, rng)
            place += 1
        else:
            parts = [line]
        for part in parts:
            got += [
                x for x in reader.feed(part, round((t_s + 1.0) * 1e9)) if isinstance(x, RawReading)
            ]
    return wiring, printer, got, sent


LINE_FAULTS = [
    n for n, k in FAULTS.items()
    if k.where == "line" and n not in ("unplug", "wrong_device", "endless", "flood")
]  # fmt: skip


@pytest.mark.parametrize("instrument", ["bowl_scale", "bath_scale", "bench_scale", "probes"])
@pytest.mark.parametrize("name", LINE_FAULTS)
def test_a_fault_of_the_line_loses_lines_but_invents_none(instrument, name):
    run = simulate(8, faults=[f"{name}@20+5:{instrument}"], short=True)
    wiring, printer, got, sent = _read(run, instrument, name, 20.0, 5.0)
    field = printer.field_of[wiring.channels[0]]
    values = [g.value for g in got if g.field == field]
    wanted = [s[wiring.channels[0]] for s in sent]
    place = 0
    for value in values:  # what was read is what was sent, in order, some of it missing
        while place < len(wanted) and abs(wanted[place] - value) > 1e-9:
            place += 1
        assert place < len(wanted), f"{value} was never sent"
        place += 1
    lost = len(wanted) - len(values)
    kept = run.channels[wiring.channels[0]].span(0.0, printer.time_s(len(sent)) - 1e-9)
    assert lost == len(wanted) - (kept.stop - kept.start)
    assert (lost > 0) == FAULTS[name].loses

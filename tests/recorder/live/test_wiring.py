"""From chunks of bytes to readings of channels: what counts, what is told, what is kept."""

import datetime
import math

import pytest

from logger.model.errors import InputError
from logger.model.files import bench_from_text
from logger.model.reading import Flag
from logger.model.state import PortRow
from logger.recorder.live.current import NO_SHEET, Current
from logger.recorder.live.wiring import Wiring, channel_records
from logger.science.fats.fatfile import builtin_fats
from logger.wire.emit import Emitter
from logger.wire.shapes.shape import builtin_shapes

TODAY = datetime.date(2026, 11, 25)
SHAPES = builtin_shapes()
SCALE = next(n for n in SHAPES if "flag" in n and "first" in n)
PROBES = "comma list of probes"

BENCH = f"""
[[instrument]]
id = "scale"
port = "/dev/none"
shape = "{SCALE}"

[[instrument]]
id = "probes"
port = "/dev/none2"
shape = "{PROBES}"

[[channel]]
id = "bath_scale"
instrument = "scale"
field = "mass"
role = "bath_scale"

[[channel]]
id = "fat"
instrument = "probes"
field = "t1"
role = "fat"
sensor = {{ kind = "thermocouple", type = "T", class = 1, converter = "0.3 K" }}
correction = {{ offset = "-0.2 K", checked = 2026-11-02, by = "ice point" }}
"""


@pytest.fixture
def wiring():
    """A wiring that has heard the end of a line: what comes before the first one may be half."""
    fresh = Wiring(bench_from_text(BENCH, "bench.toml"), SHAPES, TODAY)
    for instrument in ("scale", "probes"):
        fresh.take(instrument, "data", b"\r\n", 0)
    return fresh


def test_what_stands_before_the_first_line_end_is_not_believed():
    wiring = Wiring(bench_from_text(BENCH, "bench.toml"), SHAPES, TODAY)
    assert wiring.take("probes", "data", b"6.30,21.0,,\r\n", 10**9)[0] == []


def test_a_line_becomes_a_corrected_reading_with_its_uncertainty(wiring):
    (one,), _ = wiring.take("probes", "data", b"46.30,21.0,,\r\n", 5_000_000_000)
    assert one.reading.channel == "fat"
    assert one.sent == 46.30
    assert one.reading.value == pytest.approx(46.10)
    assert 0.0 < one.reading.u < 1.0


def test_stamps_are_whole_microseconds_as_they_are_stored(wiring):
    (one,), _ = wiring.take("probes", "data", b"46.30,21.0,,\r\n", 5_000_000_123)
    assert one.reading.t_ns % 1000 == 0


def test_an_open_probe_is_no_number_and_is_told_once(wiring):
    told = []
    for n in range(3):
        taken, events = wiring.take("probes", "data", b"OPEN,21.0,,\r\n", n * 10**9)
        told += [e for e in events if e.channel == "fat"]
        for one in taken:
            assert one.reading.value is None
            assert math.isnan(one.reading.u)
            assert one.reading.flags & Flag.OPEN
    assert [e.kind for e in told] == ["open"]


def test_an_open_probe_that_reads_again_and_opens_again_is_told_again(wiring):
    kinds = []
    for n, line in enumerate([b"OPEN,1.0,,\r\n", b"20.0,1.0,,\r\n", b"OPEN,1.0,,\r\n"]):
        kinds += [e.kind for e in wiring.take("probes", "data", line, n * 10**9)[1] if e.channel]
    assert kinds == ["open", "open"]


def test_half_a_line_before_a_reconnect_is_not_joined_to_what_follows(wiring):
    line = Emitter(SHAPES[SCALE]).line({"mass": 812.4})
    assert wiring.take("scale", "data", line[:9], 10**9)[0] == []
    wiring.take("scale", "close", b"", 2 * 10**9)
    wiring.take("scale", "open", b"", 3 * 10**9)
    taken, _ = wiring.take("scale", "data", line[9:] + line, 4 * 10**9)
    assert [t.sent for t in taken] == [812.4]


def test_a_port_of_unread_lines_is_not_believed_and_says_so(wiring):
    good = Emitter(SHAPES[SCALE]).line({"mass": 812.4})
    events, taken = [], []
    for n in range(60):
        one, said = wiring.take("scale", "data", b"\xf3\x81\x9a?\r\n" + good, n * 10**8)
        events += said
        taken += one
    assert [e.kind for e in events] == ["bad_lines"]
    assert taken[-1].reading.flags & Flag.UNTRUSTED
    port = PortRow(instrument="scale", port="/dev/none", status="connected")
    wiring.fill_in(port, 59 * 10**8)
    assert port.untrusted
    assert (port.lines, port.readings, port.bad) == (120, 60, 60)
    assert port.bad_share == pytest.approx(0.5, abs=0.01)
    assert "check the baud rate" in port.says


def test_a_run_that_begins_within_a_line_gives_the_readings_that_its_bytes_give(wiring):
    """Cut at every byte: what came before the run is not in its file and must not be missed."""
    line = Emitter(SHAPES[SCALE]).line({"mass": 812.4})
    bench = bench_from_text(BENCH, "bench.toml")
    for cut in range(2 * len(line)):
        before, within = (line * 6)[:cut], (line * 6)[cut:]
        live = Current(bench, SHAPES, NO_SHEET, builtin_fats(), origin_ns=0, today=TODAY, file=None)
        live.chunk("scale", "open", b"", 10**8)
        live.chunk("scale", "data", line + before, 10**9)
        run = Current(
            bench, SHAPES, NO_SHEET, builtin_fats(), origin_ns=2 * 10**9, today=TODAY,
            file=object(),
        )  # fmt: skip
        run.chunk("scale", "open", b"", 0)
        for at in range(0, len(within), 7):
            run.chunk("scale", "data", within[at : at + 7], 10**6 * (at + 1))
        again = Wiring(bench, SHAPES, TODAY)
        replayed = [
            (t.reading.t_ns, t.sent)
            for c in run.pending.chunks
            for t in again.take(c.instrument, c.kind, c.data, c.t_ns)[0]
        ]
        assert [(r.t_ns, r.value) for r in run.pending.readings] == replayed
        whole = within.count(b"\n") - 1
        assert [value for _, value in replayed] == [812.4] * whole


def test_a_channel_of_a_field_that_the_shape_lacks_is_refused():
    bench = bench_from_text(BENCH.replace('field = "t1"', 'field = "t9"'), "bench.toml")
    with pytest.raises(InputError, match="'t9' is not in line format"):
        channel_records(bench, SHAPES)


def test_a_temperature_channel_on_a_scale_is_refused():
    bench = bench_from_text(BENCH.replace('role = "bath_scale"', 'role = "bath"'), "bench.toml")
    with pytest.raises(InputError, match="'bath' is in degC"):
        channel_records(bench, SHAPES)


def test_the_cold_junction_is_told_every_ten_seconds(wiring):
    bench = bench_from_text(
        BENCH.replace(f'"{PROBES}"', '"one object per line, microvolts"'), "bench.toml"
    )
    wiring, told = Wiring(bench, SHAPES, TODAY), []
    for n in range(25):
        line = b'{"uv":[1500.0,0,0,0],"cj":24.31,"fault":[0,0,0,0]}\n'
        told += wiring.take("probes", "data", line, n * 10**9)[1]
    assert [e.data["temp_c"] for e in told if e.kind == "cold_junction"] == [24.31] * 3

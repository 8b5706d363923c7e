"""What hardware_notes.md tells a cook to build or to set is what the program reads and tries."""

import math
import re
import shutil
import socket
import subprocess
import threading
from pathlib import Path

import pytest
from iapws import IAPWS97

from logger.model.reading import Flag, RawReading
from logger.wire.recognise import best
from logger.wire.shapes.shape import builtin_shapes
from tests.wire.conftest import feed, fresh

NOTES = (Path(__file__).resolve().parents[3] / "hardware_notes.md").read_text("utf-8")
SHAPES = builtin_shapes()
SKETCH = re.findall(r"```c\n(.*?)```", NOTES, re.DOTALL)[1]
BRIDGE = re.search(r"```python\n(.*?)```", NOTES, re.DOTALL).group(1)
FORMATS = [
    literal.replace("\\r", "\r").replace("\\n", "\n")
    for literal in re.findall(r'snprintf\([^"]*"((?:[^"\\]|\\.)*)"', SKETCH)
]
TEMPERATURES, WEIGHT = "names T1:, T2: with C", "weight named in words, with unit"
SENT = ((2150, 0, -25), (0, 0, 5), (6025, 0, -1000))
"""Hundredths of a degC; the second probe is missing."""
TENTHS = (5123, -4, 0)
MAIN = """
int main(void) {
  char line[100];
  long sent[3][3] = {SENT}, tenths[3] = {TENTHS};
  int missing[3] = {0, 1, 0}, fault;
  for (int i = 0; i < 3; i++) {
    print_temperatures(line, sizeof line, sent[i], missing, 3);
    fputs(line, stdout);
  }
  for (int i = 0; i < 3; i++) {
    print_weight(line, sizeof line, tenths[i]);
    fputs(line, stdout);
  }
  printf("%ld %ld ", from_one_wire(0x0191), from_one_wire(-0x005E));
  printf("%ld ", from_spi(0x06400000UL, &fault));
  printf("%d ", fault);
  printf("%ld ", from_spi(0xFFFD0001UL, &fault));
  printf("%d", fault);
  return 0;
}
"""


def sized(hundredths, places):
    """Return sign, whole part and decimals as the sketch works them out."""
    whole, part = divmod(abs(hundredths), 10**places)
    return "-" if hundredths < 0 else "", whole, part


def temperature_lines():
    """Print with the sketch's own format strings."""
    name, missing, number, end, _ = FORMATS
    for line in SENT:
        cells = [
            name % (", " if at else "", at + 1) + (missing if at == 1 else number % sized(t, 2))
            for at, t in enumerate(line)
        ]
        yield ("".join(cells) + end).encode()


def weight_lines():
    """Print with the sketch's own format strings."""
    return [(FORMATS[-1] % sized(t, 1)).encode() for t in TENTHS]


def test_the_sketch_s_temperatures_are_recognised_and_read():
    heard = list(temperature_lines())
    assert best(b"\n" + b"".join(heard), SHAPES) == TEMPERATURES
    out = [o for o in feed(fresh(SHAPES[TEMPERATURES]), heard) if isinstance(o, RawReading)]
    read = {f: [o.value for o in out if o.field == f] for f in ("t1", "t2", "t3")}
    assert read == {"t1": [21.5, 0.0, 60.25], "t2": [None] * 3, "t3": [-0.25, 0.05, -10.0]}
    assert all(o.flags & (Flag.OPEN | Flag.FAULT) for o in out if o.field == "t2")


def test_the_sketch_s_weight_is_recognised_and_read():
    heard = weight_lines()
    assert best(b"\n" + b"".join(heard), SHAPES) == WEIGHT
    out = feed(fresh(SHAPES[WEIGHT]), heard)
    assert [o.value for o in out if isinstance(o, RawReading)] == [512.3, -0.4, 0.0]


def test_its_example_lines_are_what_it_prints():
    lines = [b"".join(temperature_lines()), b"".join(weight_lines())]
    for line in lines:
        assert f"// {line.splitlines()[0].decode()}\n" in SKETCH
    for name in (TEMPERATURES, WEIGHT):
        assert name in re.sub(r"\s+", " ", NOTES)


@pytest.mark.skipif(shutil.which("cc") is None, reason="no C compiler here")
def test_compiled_it_prints_the_same_lines(tmp_path):
    """By hand: 0x0191 = 401 sixteenths, -0x5E = -94; 0x0640 0000: 400 quarters; bit 16: a fault."""
    main = MAIN.replace("SENT", ", ".join(f"{{{a}, {b}, {c}}}" for a, b, c in SENT))
    main = main.replace("TENTHS", ", ".join(map(str, TENTHS)))
    source, program = tmp_path / "sketch.c", tmp_path / "sketch"
    source.write_text(SKETCH + main, encoding="utf-8")
    subprocess.run(
        ["cc", "-std=c99", "-Wall", "-Werror", "-o", str(program), str(source)], check=True
    )
    said = subprocess.run([program], capture_output=True, check=True).stdout
    lines = b"".join([*temperature_lines(), *weight_lines()])
    assert said == lines + b"2506 -587 10000 0 -25 1"


def test_the_bridge_s_lines_come_over_tcp_and_are_read():
    made = []

    class Served(threading.Event):
        def create_server(self, place):
            made.append(socket.create_server((place[0], 0)))
            self.set()
            return made[0]

    served, values = Served(), iter([512.3, None, 513.0, 513.4])
    # The program runs for ever; here it ends when there is nothing more to read.
    program = BRIDGE.replace("import socket", "").replace("except OSError", "except StopIteration")
    program = program.replace("client.close()", "client.close(); break")
    scope = {"socket": served, "read_one": lambda: next(values)}
    thread = threading.Thread(target=exec, args=(program, scope), daemon=True)
    thread.start()
    assert served.wait(20)
    with socket.create_connection(made[0].getsockname(), timeout=20) as client:
        heard = b"".join(iter(lambda: client.recv(4096), b""))
    thread.join(20)
    made[0].close()
    out = feed(fresh(SHAPES[WEIGHT]), [heard])
    assert [o.value for o in out if isinstance(o, RawReading)] == [512.3, 513.0, 513.4]


def test_the_settings_said_to_be_tried_first_are_those_of_the_format():
    rows = re.findall(r"^\| ([^|]+) \| (\d+) (\d)([NEO])(\d) \|", NOTES, re.MULTILINE)
    assert len(rows) >= 10
    for name, *line in rows:
        port = SHAPES[name].port
        assert [str(port.baud), str(port.bits), port.parity, str(port.stop)] == line, name


def test_what_open_water_loses_is_what_the_notes_say():
    """IAPWS-IF97: density of saturated vapour; half of the room's saturation is in the air."""

    def loss_g_h(area_m2, temp_c):
        def vapour(t_c):
            return 1000.0 * IAPWS97(T=t_c + 273.15, x=1).rho

        return 3600 * 0.005 * area_m2 * (vapour(temp_c) - 0.5 * vapour(20.0))

    assert loss_g_h(0.06, 20.0) / 60 == pytest.approx(0.15, abs=0.02)
    assert 100 < loss_g_h(0.06, 60.0) < 150
    assert loss_g_h(math.pi * 0.12**2, 60.0) == pytest.approx(100, abs=10)

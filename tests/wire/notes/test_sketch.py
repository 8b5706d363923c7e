"""The board's sketch in hardware_notes.md prints lines that its built-in shape reads."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.model.bench import PortSettings
from logger.model.reading import Flag, RawReading
from logger.wire.reader import LineReader
from logger.wire.shapes.shape import builtin_shapes

NOTES = Path(__file__).resolve().parents[3] / "hardware_notes.md"
SHAPE = "one object per line, microvolts"
SKETCH = re.search(r"```c\n(.*?)```", NOTES.read_text("utf-8"), re.DOTALL).group(1)
FORMATS = [
    re.sub(r"\\(.)", lambda m: {"r": "\r", "n": "\n"}.get(m[1], m[1]), literal)
    for literal in re.findall(r'snprintf\([^"]*"((?:[^"\\]|\\.)*)"', SKETCH)
]
MAIN = """
int main(void) {
  char line[100];
  long uv[4], cj;
  int fault[4];
  while (scanf("%ld %ld %ld %ld %d %d %d %d %ld", uv, uv + 1, uv + 2, uv + 3, fault, fault + 1,
               fault + 2, fault + 3, &cj) == 9) {
    print_line(line, sizeof line, uv, fault, cj);
    fputs(line, stdout);
  }
  return 0;
}
"""
Sent = tuple[list[int], list[int], int]
CASES: list[Sent] = [
    ([1693, 1702, -4, 0], [0, 0, 0, 0], 2431),
    ([0, 2036, 0, -5603], [1, 0, 4, 0], 2400),
    ([20872, 20872, 20872, 20872], [0, 2, 0, 7], 505),
    ([-6258, 1, 10, 100], [0, 0, 0, 0], 0),
    ([-999999, -999999, -999999, -999999], [0, 0, 0, 0], 4500),
]


def as_the_sketch_prints(uv: list[int], fault: list[int], cj: int) -> bytes:
    """Print a line with the sketch's own format strings, in its order."""
    begin, null, number, middle, bit, end = FORMATS
    commas = ["", ",", ",", ","]
    values = [null % c if f else number % (c, v) for c, v, f in zip(commas, uv, fault, strict=True)]
    bits = [bit % pair for pair in zip(commas, fault, strict=True)]
    middle %= (cj // 100, cj % 100)
    return "".join([begin, *values, middle, *bits, end]).encode()


def check(line: bytes, sent: Sent) -> None:
    """Hold what the shape reads against what was sent."""
    reader = LineReader(builtin_shapes()[SHAPE], settings=PortSettings(), delay_s=0.0)
    reader.reset(-1_000_000_000)
    outcomes = reader.feed(line, 0)
    read = {o.field: o for o in outcomes if isinstance(o, RawReading)}
    uv, fault, cj = sent
    assert reader.counters.bad == 0
    assert read["cj"].value == pytest.approx(cj / 100, abs=1e-9)
    for number, (value, bits) in enumerate(zip(uv, fault, strict=True), start=1):
        found = read[f"t{number}"]
        assert found.value == (None if bits else value)
        assert bool(found.flags & (Flag.OPEN | Flag.FAULT)) == bool(bits)


@pytest.mark.parametrize("sent", CASES)
def test_its_lines_are_read_by_the_built_in_shape(sent):
    check(as_the_sketch_prints(*sent), sent)


@settings(deadline=None)
@given(
    st.lists(st.integers(-80_000, 80_000), min_size=4, max_size=4),
    st.lists(st.sampled_from([0, 0, 1, 2, 4, 5]), min_size=4, max_size=4),
    st.integers(0, 6_000),
)
def test_whatever_it_measures_is_read_as_sent(uv, fault, cj):
    check(as_the_sketch_prints(uv, fault, cj), (uv, fault, cj))


def test_its_example_line_is_what_it_prints():
    line = as_the_sketch_prints([1693, 1702, 0, 1688], [0, 0, 1, 0], 2431)
    assert f"// {line.decode().strip()}" in SKETCH


def test_a_greeting_before_the_lines_is_counted_as_unread_and_does_no_harm():
    reader = LineReader(builtin_shapes()[SHAPE], settings=PortSettings(), delay_s=0.0)
    reader.reset(-1_000_000_000)
    outcomes = reader.feed(b"board 3, ready\r\n" + as_the_sketch_prints(*CASES[0]), 0)
    assert (reader.counters.lines, reader.counters.bad) == (2, 1)
    assert sum(isinstance(o, RawReading) for o in outcomes) == 5


def test_its_longest_line_fits_into_its_buffer():
    said = int(re.search(r"line: (\d+) characters", SKETCH).group(1))
    assert len(as_the_sketch_prints([-999999] * 4, [0] * 4, 9999)) < said
    assert len(as_the_sketch_prints([0] * 4, [255] * 4, 9999)) < said


@pytest.mark.skipif(shutil.which("cc") is None, reason="no C compiler here")
def test_compiled_it_prints_the_same_lines(tmp_path):
    source, program = tmp_path / "sketch.c", tmp_path / "sketch"
    source.write_text(SKETCH + MAIN, encoding="utf-8")
    subprocess.run(
        ["cc", "-std=c99", "-Wall", "-Wextra", "-Werror", "-Wno-sign-compare", "-o", program,
         source],
        check=True,
    )  # fmt: skip
    asked = "".join(" ".join(map(str, [*uv, *fault, cj])) + "\n" for uv, fault, cj in CASES)
    done = subprocess.run([program], input=asked.encode(), capture_output=True, check=True)
    assert done.stdout == b"".join(as_the_sketch_prints(*sent) for sent in CASES)

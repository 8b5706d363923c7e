"""``ports --teach``: lines and one look at the display make a line format that is used."""

from dataclasses import replace

import pytest
from click.testing import CliRunner

from logger.cli import ports
from logger.cli.main import group
from logger.model.errors import InputError
from logger.model.files import bench_from_text
from logger.ports.finding.heard import Heard
from logger.ports.shapefiles import load_shapes
from logger.wire.shapes.shape import builtin_shapes
from logger.wire.shapes.together import together
from logger.wire.teaching.registers import Register

LINES = "#1 PV= 21.5 SP= 60.0\n#1 PV= 21.6 SP= 60.0\n#1 PV= 21.7 SP= 60.0\n"
HEARD = Heard(
    port="usb:serial=A9",
    device="/dev/x",
    description="",
    baud=4800,
    settings={"bits": 7, "parity": "E"},
    text="1.5 SP= 60.0\n" + LINES,
)


def run(folder, *words, typed=None):
    return CliRunner().invoke(group, ["ports", *words, "--data", str(folder)], input=typed)


@pytest.fixture
def heard(monkeypatch):
    asked = []

    def survey(seconds, **how):
        asked.append(how)
        return [HEARD]

    monkeypatch.setattr(ports, "survey", survey)
    return asked


def test_the_display_is_asked_for_and_the_format_is_written_and_used(tmp_path, heard, monkeypatch):
    monkeypatch.setattr(ports, "somebody_is_there", lambda: True)
    monkeypatch.setattr(ports, "_ask_what_they_are", lambda path, known: None)
    done = run(tmp_path, "--teach", "/dev/x", "--write", typed="21,6 °C\n")
    assert done.exit_code == 0, done.output
    assert (heard[0]["devices"], heard[0]["only"]) == (["/dev/x"], True)
    assert "#1 PV= 21.5 SP= 60.0" in done.output
    shapes = load_shapes([tmp_path / "my-instrument.shapes.toml"])
    port = shapes["my instrument"].port
    assert (port.baud, port.bits, port.parity) == (4800, 7, "E")
    bench = bench_from_text((tmp_path / "bench.toml").read_text("utf-8"), "bench.toml")
    assert (bench.instrument[0].shape, bench.channel[0].field) == ("my instrument", "t1")
    assert bench.instrument[0].port == "usb:serial=A9"


def test_lines_from_a_file_are_taught_without_a_question(tmp_path):
    file = tmp_path / "lines.txt"
    file.write_text(LINES)
    words = ["--teach", "/dev/x", "--lines", str(file), "--shown", "21.6", "--numbers", "degC"]
    assert run(tmp_path, *words, "--name", "Jar 2").exit_code == 0
    assert "Jar 2" in load_shapes([tmp_path / "jar-2.shapes.toml"])
    again = run(tmp_path, *words, "--name", "Jar 2")
    assert isinstance(again.exception, InputError)
    assert "already exists" in str(again.exception)


def test_a_number_in_a_register_is_written_only_at_the_factor_that_the_display_shows(
    tmp_path, monkeypatch
):
    shape = builtin_shapes()["register, one in tenths"]
    text = together({3: (shape, ("t1",))}, shape.port)
    one = Register(field="d3_t1", place="device 3", number=2153.0, factors=shape.factors)
    heard = replace(HEARD, text="", registers=(one,), registers_text=text)
    monkeypatch.setattr(ports, "survey", lambda seconds, **how: [heard])
    alone = run(tmp_path, "--numbers", "degC")
    assert "device 3: 2153, 215.3 or 21.53?" in alone.output
    assert "[[instrument]]" not in alone.output
    unsaid = run(tmp_path, "--teach", "/dev/x", "--write")
    assert "say what it shows" in str(unsaid.exception)
    assert list(tmp_path.glob("*.toml")) == []
    done = run(tmp_path, "--teach", "/dev/x", "--shown", "21.53 degC", "--write")
    assert "reads now 21.53 °C" in done.output
    bench = bench_from_text((tmp_path / "bench.toml").read_text("utf-8"), "bench.toml")
    shape = load_shapes(sorted(tmp_path.glob("*.shapes.toml")))[bench.instrument[0].shape]
    assert shape.channel[bench.channel[0].field].scale == 0.01


@pytest.mark.parametrize("found", [[], [HEARD]])
def test_with_nothing_recognised_no_bench_file_is_written(tmp_path, monkeypatch, found):
    monkeypatch.setattr(ports, "survey", lambda seconds, **how: found)
    done = run(tmp_path, "--write")
    assert isinstance(done.exception, InputError)
    assert "Say which channel" not in done.output
    assert list(tmp_path.glob("*.toml")) == []


def test_what_belongs_to_teaching_without_it_is_refused(tmp_path):
    done = run(tmp_path, "--shown", "21.6")
    assert "add --teach PORT" in str(done.exception)


def test_a_display_that_no_line_shows_writes_nothing(tmp_path, heard):
    done = run(tmp_path, "--teach", "/dev/x", "--shown", "30.0 degC")
    assert "no number in the lines is 30" in str(done.exception)
    assert list(tmp_path.glob("*.toml")) == []

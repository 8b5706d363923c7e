"""Ports are listened to, recognised, and turned into a bench file that reads."""

import select
import termios
import threading

import pytest

from logger.model.files import bench_from_text
from logger.ports.finding.heard import Heard, bench_text
from logger.ports.finding.listen import survey
from logger.recorder.live.wiring import channel_records
from logger.wire.emit import Emitter
from logger.wire.questions import SETTINGS
from logger.wire.shapes.shape import builtin_shapes
from logger.wire.teaching.registers import matched

SHAPES = builtin_shapes()
NAMES = [
    "flag-first comma weight", "comma list of probes", "one object per line, microvolts",
    "asked weight, letter reply", "asked instrument, scanned list", "registers, tenths",
]  # fmt: skip


@pytest.fixture(autouse=True)
def _no_real_ports(monkeypatch):
    monkeypatch.setattr("logger.ports.finding.listen.listed_ports", list)


@pytest.fixture
def spoken(bench):
    """Return ports on which each of the shapes is spoken until the end of the test."""
    stop = threading.Event()
    streams = []
    for name in NAMES:
        shape, line = SHAPES[name], bench.line(name.replace(" ", "_"))
        emitter = Emitter(shape, identity="Maker,One,0001,1")
        values = {f: 21.5 + n for n, f in enumerate(shape.channel)}
        if shape.asks:
            fixed = 8 if shape.decode == "modbus" else 0
            bench.answerer(
                line, lambda question, e=emitter, v=values: e.reply(question, v), fixed=fixed
            )
        else:
            streams.append((line, emitter.line(values)))

    def speak() -> None:
        while not stop.wait(0.05):
            for line, data in streams:
                if select.select([], [line.main], [], 0)[1]:
                    line.send(data)

    thread = threading.Thread(target=speak, daemon=True)
    thread.start()
    yield [line.port for line in bench.lines]
    stop.set()
    thread.join(20)


def test_each_instrument_is_recognised_and_the_bench_file_reads(spoken, monkeypatch):
    monkeypatch.setattr("logger.ports.finding.listener.EACH_S", 0.3)
    heard = survey(0.5, devices=spoken, only=True, shapes={name: SHAPES[name] for name in NAMES})
    assert [h.shape for h in heard] == [*NAMES[:-1], None]
    assert heard[4].identity == "Maker,One,0001,1"
    assert [bool(h.units) for h in heard] == [False, True, False, False, False, False]
    assert "holding register 0: 215, 21.5 or 2.15; " in heard[5].says
    assert bench_from_text(bench_text(heard[5:]), "bench.toml").instrument == []
    assert "% of its lines fit; reads now 21.5 g" in heard[0].says
    assert heard[1].says.split("; ")[1] == "reads now t1 21.5, t2 22.5, t3 23.5, t4 24.5"
    said = [one.in_unit("degC", SHAPES) for one in heard]
    assert "t1 21.5 °C, t2 22.5 °C" in said[1].says
    assert all(len(one.reads) == len(set(one.fields) - {"cj"}) for one in said)
    tenths = [f"{21.5 + n} °C" for n in range(8)]
    said[5] = said[5].said(matched(said[5].registers, tenths, ""), NAMES[5])
    bench = bench_from_text(bench_text(said), "bench.toml")
    assert [i.shape for i in bench.instrument] == NAMES
    assert [i.port for i in bench.instrument] == spoken
    roles = [c.role for c in bench.channel if c.role.endswith("_scale")]
    assert roles == ["bench_scale", "bath_scale"]
    for channel in bench.channel:
        instrument = next(i for i in bench.instrument if i.id == channel.instrument)
        assert channel.field.removeprefix("d1_") in SHAPES[instrument.shape].channel


def test_a_silent_port_says_so_and_a_missing_one_says_why(bench, monkeypatch):
    monkeypatch.setattr("logger.ports.finding.listener.SETTINGS", ())
    silent = bench.line()
    shapes = {name: SHAPES[name] for name in NAMES[:2]}
    ports = [silent.port, "/dev/there-is-no-such-port"]
    heard = survey(0.5, devices=ports, only=True, shapes=shapes, ask=False)
    assert "nothing heard" in heard[0].says
    assert "no such port" in heard[1].says
    assert "No instrument was recognised" in bench_text(heard)


def test_settings_that_differ_from_the_shape_go_into_the_bench_file():
    heard = Heard(
        port='usb:serial=odd "name"', device="x", description="", shape="comma list of 1 probe",
        fields=("t1",), quantity=("temperature",), settings={"baud": 1200, "parity": "E"},
    )  # fmt: skip
    instrument = bench_from_text(bench_text([heard]), "bench.toml").instrument[0]
    assert (instrument.settings.baud, instrument.settings.parity) == (1200, "E")
    assert instrument.port == 'usb:serial=odd "name"'


def test_a_proposed_bench_is_one_that_records_however_many_scales_there_are():
    name = "flag-first comma weight"
    scales = [
        Heard(port=f"/dev/p{n}", device="p", description="", shape=name, fields=("mass",),
              quantity=("mass",))
        for n in range(9)
    ]  # fmt: skip
    text = bench_text(scales)
    assert '"/dev/p3": mass is left out because there is no role for another scale' in text
    bench = bench_from_text(text, "bench.toml")
    assert len(channel_records(bench, SHAPES)) == len(bench.instrument) == 3


def test_what_was_heard_turns_into_json():
    assert Heard(port="p", device="d", description="").as_json()["says"] == "d: nothing heard"


def test_numbers_without_a_unit_are_proposed_only_when_somebody_said_what_they_are():
    bare = Heard(
        port="/dev/p",
        device="p",
        description="",
        shape="comma list of 1 probe",
        fields=("t1",),
        quantity=("temperature",),
        baud=9600,
        units=SHAPES["comma list of 1 probe"].unsaid,
        left_out=(("t2", "clock"),),
    )
    assert "which unit are its numbers in: degC, degF, g, kg, lb or oz?" in bare.says
    assert bench_from_text(bench_text([bare]), "b").instrument == []
    weighs = bench_text([bare.in_unit("kg", SHAPES)])
    assert "t2 is left out because it looks like a clock or a counter" in weighs
    bench = bench_from_text(weighs, "b")
    assert (bench.instrument[0].shape, bench.channel[0].unit) == ("comma list of 1 probe, kg", "g")
    assert bare.in_unit("uV", SHAPES) is bare


def test_an_instrument_at_a_setting_that_no_format_names_is_found(bench, monkeypatch):
    """The terminal passes all bytes, so the speaker itself is silent at any other baud rate."""
    assert (38400, 8, "N") in SETTINGS
    monkeypatch.setattr("logger.ports.finding.listener.SETTINGS", [(38400, 8, "N")])
    name, line = "flag-first comma weight", bench.line()
    stop, data = threading.Event(), Emitter(SHAPES[name]).line({"mass": 12.5})

    def speak() -> None:
        while not stop.wait(0.03):
            right = termios.tcgetattr(line.main)[4] == termios.B38400
            if right and select.select([], [line.main], [], 0)[1]:
                line.send(data)

    thread = threading.Thread(target=speak, daemon=True)
    thread.start()
    (heard,) = survey(0.5, devices=[line.port], shapes={name: SHAPES[name]}, ask=False)
    stop.set()
    thread.join(20)
    assert (heard.shape, heard.settings) == (name, {"baud": 38400})


def test_one_that_speaks_seldom_is_waited_for_and_progress_is_told(bench, monkeypatch):
    monkeypatch.setattr("logger.ports.finding.listener.PATIENT_S", 0.0)
    monkeypatch.setattr("logger.ports.finding.listener.SETTINGS", SETTINGS[:2])
    slow, stop, told = bench.line(), threading.Event(), []

    def speak() -> None:
        while not stop.wait(1.0):
            if select.select([], [slow.main], [], 0)[1]:
                slow.send(b"ST,GS,+   12.5  g\r\n")

    thread = threading.Thread(target=speak, daemon=True)
    thread.start()
    try:
        (heard,) = survey(
            0.5,
            devices=[slow.port],
            shapes={NAMES[0]: SHAPES[NAMES[0]]},
            progress=lambda *far: told.append(far),
        )
    finally:
        stop.set()
        thread.join(20)
    assert heard.shape == NAMES[0]
    assert [number for _, number, _ in told] == list(range(len(told)))
    assert all(port == slow.port and number < of for port, number, of in told)


def test_a_quiet_one_is_asked_at_other_settings_than_its_format_s(bench, monkeypatch):
    """It neither understands nor answers at another baud rate than its own."""
    for key, value in {"SETTINGS": [(9600, 8, "N"), (4800, 8, "N")], "USUAL": 1}.items():
        monkeypatch.setattr(f"logger.ports.finding.listener.{key}", value)
    name, line = "asked weight, letter reply", bench.line()
    emitter = Emitter(SHAPES[name])

    def answer(question):
        right = termios.tcgetattr(line.main)[4] == termios.B4800
        return emitter.reply(question, {"mass": 12.5}) if right else b""

    bench.answerer(line, answer)
    (heard,) = survey(0.1, devices=[line.port], only=True, shapes={name: SHAPES[name]})
    assert (heard.shape, heard.settings) == (name, {"baud": 4800})


def test_frames_of_bytes_are_waited_for_like_lines(bench, monkeypatch):
    monkeypatch.setattr("logger.ports.finding.listener.EACH_S", 0.3)
    name, line, stop = "BCD frame of a weight", bench.line(), threading.Event()

    def speak() -> None:
        while not stop.wait(0.25):
            if select.select([], [line.main], [], 0)[1]:
                line.send(bytes.fromhex("FF 12 34 12 00"))

    thread = threading.Thread(target=speak, daemon=True)
    thread.start()
    (heard,) = survey(0.3, devices=[line.port], only=True, shapes={name: SHAPES[name]}, ask=False)
    stop.set()
    thread.join(20)
    assert (heard.shape, heard.units) == (name, SHAPES[name].unsaid)

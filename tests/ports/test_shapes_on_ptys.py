"""Every built-in line shape through a real tty: streamed, asked, and with registers."""

import pytest

from logger.model.reading import RawReading
from logger.wire.emit import Emitter
from logger.wire.reader import reader_of
from logger.wire.shapes.shape import shapes_from_text
from tests.wire.reading_again import read_again
from tests.wire.written import written_shapes

SHAPES = written_shapes()
STREAMED = [name for name, s in SHAPES.items() if not s.asks]
ASKED = [name for name, s in SHAPES.items() if s.asks and s.decode != "modbus"]
REGISTERS = ["registers, tenths", "registers, mixed"]
"""All others differ from these in their addresses only; ``tests.bench formats`` speaks them all."""


def sample(name: str, step: float = 0.0) -> dict[str, float | None]:
    usual = {"mass": 123.5, "temperature": 21.5, "emf": 812.5}
    fields = SHAPES[name].channel.items()
    return {f: usual[d.quantity] + step + n for n, (f, d) in enumerate(fields)}


def quick(name: str):
    """Return a shape whose board boots at once and is asked fast."""
    shape = SHAPES[name]
    port = shape.port.model_copy(update={"settle_s": 0.0})
    change: dict[str, object] = {"port": port, "every_s": 0.05}
    if shape.ask != "none":
        change["ask"] = shape.ask.model_copy(update={"every_s": 0.05, "timeout_s": 5.0})
    return shape.model_copy(update=change)


@pytest.mark.parametrize("name", STREAMED)
def test_a_streaming_shape_is_read_from_a_tty(name, bench):
    line, emitter = bench.line(), Emitter(SHAPES[name])
    bench.thread(line.port, quick(name))
    line.send(b"\r\n")
    for step in range(4):
        line.send(emitter.line(sample(name, step)))
    wanted = [v for step in range(4) for v in sample(name, step).values()]
    bench.sink.wait(lambda s: len(s.values()) >= len(wanted), "four lines")
    assert sorted(bench.sink.values()) == pytest.approx(sorted(wanted))
    assert bench.sink.batches[0].kind == "open"
    assert bench.sink.kinds == ["connected"]


@pytest.mark.parametrize("name", ASKED)
def test_an_asked_shape_is_asked_and_read(name, bench):
    line, emitter = bench.line(), Emitter(SHAPES[name])
    bench.answerer(line, lambda question: emitter.reply(question, sample(name)))
    bench.thread(line.port, quick(name))
    fields = list(SHAPES[name].channel)
    bench.sink.wait(lambda s: len(s.values()) >= 3 * len(fields), "three answers")
    assert set(bench.sink.values()) == set(sample(name).values())


@pytest.mark.parametrize("name", REGISTERS)
def test_registers_are_asked_and_read_from_raw_bytes(name, bench):
    line, emitter = bench.line(), Emitter(SHAPES[name])
    bench.answerer(line, lambda question: emitter.reply(question, sample(name)), fixed=8)
    bench.thread(line.port, quick(name))
    fields = list(SHAPES[name].channel)
    bench.sink.wait(lambda s: len(s.values()) >= 3 * len(fields), "three rounds")
    assert bench.sink.values()[: len(fields)] == pytest.approx(list(sample(name).values()))


OWN = """
[shape."two devices, hex digits"]
decode = "modbus"
transmission = "ascii"
every = 0.05
channel.t1 = { register = 0, scale = 0.1 }
channel.t2 = { register = 0, scale = 0.1, device = 4 }

[shape."two questions after one command"]
begin = ["GO\\n"]
ask = { send = "#01\\n", then = ["#02\\n"], every = 0.05, timeout = 5.0 }
frame = { end = "\\r" }
channel.t1 = { group = "a" }
channel.t2 = { group = "b" }
line = [{ means = "reading", pattern = '>01(?P<a>[0-9.]+)' },
  { means = "reading", pattern = '>02(?P<b>[0-9.]+)' }]
"""


def test_two_devices_of_one_line_are_asked_by_their_numbers_in_hex_digits(bench):
    shape = shapes_from_text(OWN, "own")["two devices, hex digits"]
    line, emitter = bench.line(), Emitter(shape)
    bench.answerer(line, lambda question: emitter.reply(question, {"t1": 21.5, "t2": 60.1}))
    bench.thread(line.port, shape)
    bench.sink.wait(lambda s: len(s.values()) >= 4, "two rounds")
    assert bench.sink.values()[:4] == [21.5, 60.1, 21.5, 60.1]


def test_a_command_goes_out_once_and_then_one_question_after_the_other(bench):
    shape = shapes_from_text(OWN, "own")["two questions after one command"]
    line, asked = bench.line(), []
    answers = {b"#01\n": b">0121.5\r", b"#02\n": b">0260.1\r"}

    def answer(question):
        asked.append(question)
        return answers.get(question, b"")

    bench.answerer(line, answer)
    bench.thread(line.port, shape)
    bench.sink.wait(lambda s: len(s.values()) >= 4, "two rounds")
    assert bench.sink.values()[:4] == [21.5, 60.1, 21.5, 60.1]
    assert asked[:5] == [b"GO\n", b"#01\n", b"#02\n", b"#01\n", b"#02\n"]


@pytest.mark.parametrize("name", [STREAMED[0], *ASKED, *REGISTERS])
def test_the_raw_bytes_alone_give_the_same_readings_again(name, bench):
    line, emitter = bench.line(), Emitter(SHAPES[name])
    shape = quick(name)
    if shape.asks:
        fixed = 8 if shape.decode == "modbus" else 0
        bench.answerer(line, lambda question: emitter.reply(question, sample(name)), fixed=fixed)
    thread = bench.thread(line.port, shape)
    if not shape.asks:
        line.send(b"\r\n" + b"".join(emitter.line(sample(name, n)) for n in range(5)))
    bench.sink.wait(lambda s: len(s.values()) >= 4 * len(shape.channel), "readings")
    records = [(b.kind, b.t_ns, b.data) for b in bench.sink.batches]
    again = [o for _, out in read_again(reader_of(thread.instrument, shape), records) for o in out]
    assert again == bench.sink.outcomes
    assert any(isinstance(o, RawReading) for o in again)


def test_init_strings_go_out_before_the_first_question(bench):
    name = "asked instrument, scanned list"
    line, emitter = bench.line(), Emitter(SHAPES[name])
    answerer = bench.answerer(line, lambda question: emitter.reply(question, sample(name)))
    bench.thread(line.port, quick(name))
    bench.sink.wait(lambda s: s.values(), "an answer")
    asked = [question for _, question in answerer.asked]
    assert asked[:5] == [b"SYST:REM\n", b"*CLS\n", b"UNIT:TEMP C\n", b"*IDN?\n", b"READ?\n"]


def test_only_one_question_is_open_at_a_time(bench, emitter):
    """Six periods pass without a second question; the answer brings it."""
    line = bench.line()
    bench.thread(line.port, quick("asked weight, letter reply"))
    assert line.receive(10.0) == b"SI\r\n"
    assert line.receive(0.3) == b""
    line.send(emitter("asked weight, letter reply").line({"mass": 2.0}))
    assert line.receive(10.0) == b"SI\r\n"

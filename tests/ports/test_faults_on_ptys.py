"""What a bench does wrong, over real ttys: the reader keeps going and invents nothing."""

import os
import random
import termios

from logger.model.reading import Flag, RawReading
from logger.ports.clock import Clock
from logger.wire.emit import Emitter
from logger.wire.modbus import plan_of, response_bytes
from logger.wire.reader import LineReader
from logger.wire.shapes.shape import builtin_shapes

SHAPES = builtin_shapes()
FOUR = {"t1": 21.5, "t2": 22.5, "t3": 23.5, "t4": 24.5}
PROBES, SCALE = "comma list of probes", "flag-first comma weight"
PROBE_LINE = Emitter(SHAPES[PROBES]).line(FOUR)


def weight(mass_g: float, **how: object) -> bytes:
    return Emitter(SHAPES[SCALE]).line({"mass": mass_g}, **how)


def quick_registers():
    port = SHAPES["registers, tenths"].port
    return SHAPES["registers, tenths"].model_copy(
        update={"every_s": 0.05, "timeout_s": 0.2, "port": port}
    )


def test_a_pulled_plug_is_an_event_and_the_half_line_is_dropped(bench, until):
    line = bench.line()
    thread = bench.thread(line.port, SCALE)
    line.send(b"\r\n" + weight(10.0) + b"ST,GS,+    3.")
    bench.sink.wait(lambda s: b"3." in s.data, "the half line")
    line.unplug()
    bench.sink.wait(lambda s: "lost" in s.kinds, "the loss")
    line.plug()
    bench.sink.wait(lambda s: s.batches[-1].kind == "close", "the close")
    until(lambda: thread.status().status == "checking")
    line.send(b"5.0  g\r\n" + weight(12.0))
    bench.sink.wait(lambda s: s.values() == [10.0, 12.0], "the next whole line")
    assert bench.sink.kinds == ["connected", "lost", "connected"]
    assert [b.kind for b in bench.sink.batches if b.kind in ("open", "close")] == [
        "open", "close", "open",
    ]  # fmt: skip


def test_another_instrument_under_the_name_is_refused_and_nothing_of_it_is_kept(bench, until):
    line = bench.line()
    thread = bench.thread(line.port, PROBES)
    line.send(b"\r\n" + PROBE_LINE)
    bench.sink.wait(lambda s: len(s.values()) == 4, "the right instrument")
    line.unplug()
    bench.sink.wait(lambda s: "lost" in s.kinds, "the loss")
    line.plug()
    until(lambda: thread.status().status == "checking")
    line.send(weight(500.0) * 9)
    bench.sink.wait(lambda s: "wrong_device" in s.kinds, "the refusal")
    assert thread.status().status == "wrong_device"
    assert SCALE in bench.sink.events[-1].text
    line.unplug()
    line.plug()
    bench.sink.wait(
        lambda s: len(s.values()) >= 8,
        "the right one again",
        nudge=lambda: line.send(PROBE_LINE),
    )
    assert b"ST," not in bench.sink.data
    assert set(bench.sink.values()) == set(FOUR.values())


def test_a_line_in_slices_is_read_once_when_it_is_whole(bench):
    line = bench.line()
    bench.thread(line.port, PROBES)
    line.send(b"\r\n")
    for at in range(len(PROBE_LINE)):
        line.send(PROBE_LINE[at : at + 1])
    line.send(PROBE_LINE)
    bench.sink.wait(lambda s: len(s.values()) == 8, "two lines")
    assert bench.sink.values() == [*FOUR.values()] * 2


def test_garbage_is_counted_and_the_status_says_check_the_baud_rate(bench, until):
    line = bench.line()
    thread = bench.thread(line.port, PROBES)
    noise = random.Random(7)
    garbage = b"".join(
        bytes(noise.randrange(128, 256) for _ in range(20)) + b"\n" for _ in range(40)
    )
    line.send(b"\r\n" + garbage)
    bench.sink.wait(lambda s: len(s.data) == len(garbage) + 2, "the garbage, kept")
    until(lambda: bench.bad_share() > 0.2)
    assert "check the baud rate" in thread.status().says
    assert bench.sink.values() == []
    assert bench.sink.notices() == ["bad_line"]
    assert thread.status().status == "connected"


def test_at_the_wrong_baud_rate_nothing_reads_and_at_the_right_one_all_does(bench, until):
    """The instrument speaks 9600 baud and is garbled at any other."""
    line = bench.line()

    def say(times: int) -> None:
        right = termios.tcgetattr(line.main)[4] == termios.B9600
        line.send((PROBE_LINE if right else bytes(b | 0x80 for b in PROBE_LINE) + b"\n") * times)

    wrong = bench.thread(line.port, PROBES, settings={"baud": 4800})
    say(10)
    until(lambda: bench.bad_share() > 0.2)
    wrong.stop()
    wrong.join(10)
    assert bench.sink.values() == []
    bench.thread(line.port, PROBES)
    say(10)
    bench.sink.wait(lambda s: len(s.values()) >= 36, "readings")
    assert bench.bad_share() < 0.2


def test_damaged_lines_between_good_ones_give_nothing(bench):
    """Merged, NUL, not UTF-8, empty, comment, prefix with an end."""
    line = bench.line()
    bench.thread(line.port, SCALE)
    good = [weight(float(n)) for n in range(1, 9)]
    bad = [
        good[0].rstrip() + good[1], b"ST,GS,+\x00  12.0  g\r\n", b"ST,GS,+   1\xff.0  g\r\n",
        b"\r\n", b"# hello\r\n", b"ST,GS,+  12\r\n", b"12.0  g\r\n", b"\x00\x00\r\n",
    ]  # fmt: skip
    line.send(b"\r\n" + b"".join(g + b for g, b in zip(good, bad, strict=True)) + weight(99.0))
    bench.sink.wait(lambda s: 99.0 in s.values(), "the last good line")
    assert bench.sink.values() == [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 99.0]


def test_a_megabyte_without_an_end_is_bounded_and_the_next_line_reads(bench):
    line = bench.line()
    bench.thread(line.port, PROBES)
    line.send(b"\r\n" + PROBE_LINE)
    for _ in range(250):
        line.send(b"8" * 4000)
    line.send(b"\r\n" + PROBE_LINE)
    bench.sink.wait(lambda s: len(s.values()) == 8, "the line behind it")
    assert bench.sink.notices() == ["too_long"]
    assert bench.bad_share() > 0.2


def test_a_flood_of_lines_is_read_to_the_last_one(bench):
    line = bench.line()
    bench.thread(line.port, SCALE)
    line.send(b"\r\n")
    lines = [weight(n / 10) for n in range(1000)]
    for start in range(0, 50_000, 1000):
        line.send(b"".join(lines))
        bench.sink.take_all()
        assert start >= 0
    line.send(weight(7777.0))
    bench.sink.wait(lambda s: s.values()[-1:] == [7777.0], "the last line")
    assert len(bench.sink.values()) == 50_001
    assert bench.reader.counters.bad == 0
    times = [o.t_ns for o in bench.sink.outcomes]
    assert times == sorted(times)


def test_open_probes_overload_tare_and_unit_are_events(bench):
    line, more = bench.line("probes"), bench.line("scale")
    bench.thread(line.port, PROBES)
    line.send(b"\r\n" + PROBE_LINE + Emitter(SHAPES[PROBES]).line(FOUR | {"t2": None}))
    bench.sink.wait(lambda s: len(s.values()) == 8, "the open probe")
    assert bench.sink.values("t2") == [22.5, None]
    assert bench.sink.notices() == ["open"]
    bench.thread(more.port, SCALE)
    more.send(
        b"\r\n" + weight(4210.5) + weight(0.0, net=True) + weight(0.0, net=True, unit="oz")
        + weight(0.0, over=True) + weight(0.0, under=True) + weight(5.0, net=True, unit="oz")
    )  # fmt: skip
    bench.sink.wait(lambda s: len(s.values("mass")) == 6, "the scale")
    assert bench.sink.notices() == ["open", "tare", "unit_change", "overload", "underload"]
    assert bench.sink.values("mass")[3:5] == [None, None]
    flags = [o.flags for o in bench.sink.outcomes if isinstance(o, RawReading)][-3:-1]
    assert flags == [int(Flag.OVER), int(Flag.UNDER)]


def test_garbage_before_a_modbus_answer_and_no_answer_are_survived(bench):
    shape, line = quick_registers(), bench.line()
    request = plan_of(shape)[0][0]
    good = response_bytes(1, request, [215, 216, 217, 218, 219, 220, 221, 222])
    answers = iter([b"\xff\x00garbage" + good, b"", good[:9], good[:-1] + b"\x00"])
    bench.answerer(line, lambda question: next(answers, good), fixed=8)
    bench.thread(line.port, shape)
    bench.sink.wait(lambda s: len(s.values()) >= 24, "three good rounds")
    assert set(bench.sink.values()) == {21.5, 21.6, 21.7, 21.8, 21.9, 22.0, 22.1, 22.2}


def test_steady_modbus_garbage_ends_each_question_in_time(bench, until):
    """The client must not wait for ever while garbage keeps coming."""
    shape, line = quick_registers(), bench.line()
    answerer = bench.answerer(line, lambda question: b"\xa5" * 2000, fixed=8)
    bench.thread(line.port, shape)
    until(lambda: len(answerer.asked) >= 4)
    bench.sink.wait(lambda s: bench.reader.counters.bad >= 4, "four answers that do not read")
    assert bench.sink.values() == []


def test_an_absent_device_is_said_once(bench, until):
    shape, line = quick_registers(), bench.line()
    answerer = bench.answerer(line, lambda question: b"", fixed=8)
    thread = bench.thread(line.port, shape)
    bench.sink.wait(lambda s: "error" in s.kinds, "the silence")
    until(lambda: len(answerer.asked) >= 8)
    bench.sink.take_all()
    assert bench.sink.kinds == ["error"]
    assert "device 1" in bench.sink.events[0].text
    assert thread.status().status == "checking"


def test_a_modbus_exception_is_an_error_and_no_number(bench):
    shape, line, emitter = quick_registers(), bench.line(), Emitter(SHAPES["registers, tenths"])
    bench.answerer(line, lambda question: emitter.reply(question, {}, exception=2), fixed=8)
    bench.thread(line.port, shape)
    bench.sink.wait(lambda s: len(s.values()) >= 16, "two answers")
    assert set(bench.sink.values()) == {None}
    assert bench.sink.notices() == ["error"]


def test_the_bench_file_chooses_the_modbus_device(bench):
    shape, line = quick_registers(), bench.line()
    emitter = Emitter(shape.model_copy(update={"device": 17}))
    values = dict.fromkeys(shape.channel, 20.0)
    answerer = bench.answerer(line, lambda question: emitter.reply(question, values), fixed=8)
    bench.thread(line.port, shape, device=17)
    bench.sink.wait(lambda s: s.values(), "an answer")
    assert answerer.asked[0][1][0] == 17


def asked_scanner(bench, says: str):
    name = "asked instrument, scanned list"
    ask = SHAPES[name].ask.model_copy(update={"every_s": 0.05})
    identify = SHAPES[name].identify.model_copy(update={"timeout_s": 0.3})
    line, emitter = bench.line(), Emitter(SHAPES[name], identity=says)
    bench.answerer(line, lambda question: emitter.reply(question, FOUR))
    return line, SHAPES[name].model_copy(update={"ask": ask, "identify": identify})


def test_an_instrument_that_says_another_name_is_refused(bench):
    line, shape = asked_scanner(bench, "Maker,Two,0002,1")
    thread = bench.thread(line.port, shape, identity="Maker,One,0001,1")
    bench.sink.wait(lambda s: "wrong_device" in s.kinds, "the refusal")
    assert "Maker,Two,0002,1" in bench.sink.events[0].text
    assert bench.sink.data == b""
    assert thread.status().status in ("wrong_device", "checking")


def test_the_name_said_first_is_asked_for_after_each_replug(bench):
    line, shape = asked_scanner(bench, "Maker,One,0001,1")
    bench.thread(line.port, shape)
    bench.sink.wait(lambda s: s.values(), "an answer")
    assert "Maker,One,0001,1" in bench.sink.events[0].text
    bench.answerers[0].stop()
    line.unplug()
    bench.sink.wait(lambda s: "lost" in s.kinds, "the loss")
    other = Emitter(shape, identity="Maker,Two,0002,1")
    line.plug()
    bench.answerer(line, lambda question: other.reply(question, FOUR))
    bench.sink.wait(lambda s: "wrong_device" in s.kinds, "the refusal")


def test_an_instrument_that_does_not_say_its_name_is_told(bench):
    line, shape = asked_scanner(bench, "nonsense")
    bench.thread(line.port, shape)
    bench.sink.wait(lambda s: "lost" in s.kinds, "the silence")
    assert "does not answer '*IDN?'" in bench.sink.events[0].text
    assert bench.sink.data == b""


def test_a_bug_in_a_parser_does_not_look_like_a_pulled_plug(bench, until, monkeypatch):
    line = bench.line()
    thread = bench.thread(line.port, PROBES)

    def broken(self, data: bytes, t_ns: int) -> list:
        raise ZeroDivisionError("a bug")

    monkeypatch.setattr(LineReader, "feed", broken)
    line.send(PROBE_LINE)
    until(lambda: "bug" in thread.status().says)
    monkeypatch.undo()
    bench.sink.wait(lambda s: s.values(), "readings", nudge=lambda: line.send(PROBE_LINE))
    assert "lost" not in bench.sink.kinds


def test_a_stop_ends_a_silent_port_in_time(bench):
    line = bench.line()
    thread = bench.thread(line.port, PROBES)
    thread.stop()
    thread.join(10)
    assert thread.status().status == "stopped"
    os.close(os.open(line.port, os.O_RDWR | os.O_NOCTTY))


def test_a_port_that_comes_later_is_taken_when_it_is_there(bench):
    thread = bench.thread(str(bench.folder / "later"), PROBES)
    bench.sink.wait(lambda s: "lost" in s.kinds, "the missing port")
    assert "no such port" in thread.status().says
    line = bench.line("later")
    bench.sink.wait(lambda s: s.values(), "readings", nudge=lambda: line.send(PROBE_LINE))
    assert bench.sink.kinds == ["lost", "connected"]


def test_two_readers_of_one_port_are_told_apart_by_name(bench):
    line = bench.line()
    bench.thread(line.port, PROBES)
    second = bench.thread(line.port, PROBES)
    bench.sink.wait(lambda s: "lost" in s.kinds, "the refusal")
    assert f"process {os.getpid()}" in second.status().says


def test_on_a_fast_clock_times_are_run_times(bench):
    line = bench.line()
    bench.thread(line.port, PROBES, clock=Clock(50.0))
    line.send(b"\r\n" + PROBE_LINE)
    bench.sink.wait(lambda s: s.values(), "a line")
    first = bench.sink.batches[-1].t_ns
    line.send(PROBE_LINE)
    bench.sink.wait(lambda s: len(s.values()) == 8, "another")
    assert bench.sink.batches[-1].t_ns > first

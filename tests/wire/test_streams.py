"""Any stream, cut anywhere: no reading that was not sent whole, and cutting changes nothing."""

from itertools import pairwise

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from logger.model.bench import PortSettings
from logger.model.reading import RawReading
from logger.wire.emit import Emitter
from logger.wire.modbus import on_the_wire, plan_of, request_bytes
from logger.wire.reader import LineReader
from logger.wire.shapes.shape import Shape
from tests.wire.written import written_shapes

SHAPES = written_shapes()
FRAMED = [
    "flag-first comma weight", "fixed columns weight, blank unit",
    "fixed 22 columns weight, blank unit", "fixed width weight, trailing question mark",
    "asked weight, letter reply", "control characters weight, check byte",
    "one object per line, microvolts", "registers, tenths", "registers, mixed",
]  # fmt: skip
"""Shapes that a lost end or a lost piece of a line cannot fool. In a bare list of numbers ``2`` and
``22.50`` make ``222.50``, which nothing can tell: those shapes only get junk that is no digit. Two
halves of different lines that meet at the same column can only be told by a check sum, so they are
joined for registers alone."""
usual = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow], max_examples=150)
JUNK = st.binary(min_size=1, max_size=12).map(
    lambda b: bytes(c for c in b if c not in b"0123456789+-.eE ,\t=\r\n\x02\x03\x00") or b"\xfe"
)


def message(shape: Shape, number: int) -> tuple[bytes, list[tuple[str, float]]]:
    """Return the bytes of one message and what it says; no two numbers say the same."""
    sent = {name: float(number * 20 + at) + 0.5 for at, name in enumerate(shape.channel)}
    emitter = Emitter(shape)
    if shape.decode != "modbus":
        return emitter.line(dict(sent)), list(sent.items())
    asked = [
        on_the_wire(shape, request_bytes(shape.device, request)) for request, _ in plan_of(shape)
    ]
    data = b"".join(q + emitter.reply(q, dict(sent)) for q in asked)
    return data, [(n, sent[n]) for _, names in plan_of(shape) for n in names]


def feed(shape: Shape, chunks: list[bytes]) -> tuple[LineReader, list]:
    reader = LineReader(shape, settings=PortSettings(), delay_s=0.0)
    reader.reset(-1_000_000_000)
    out = []
    for number, chunk in enumerate(chunks):
        out += reader.feed(chunk, number * 1_000_000)
    return reader, out


def untimed(outcomes: list) -> list:
    return [
        (o.field, o.value, o.unit, o.flags, o.cold_junction_c) if isinstance(o, RawReading)
        else (o.kind, o.field, o.text)
        for o in outcomes
    ]  # fmt: skip


def cut(data: bytes, places: list[int]) -> list[bytes]:
    edges = sorted({0, len(data), *(p % (len(data) + 1) for p in places)})
    return [data[a:b] for a, b in pairwise(edges)]


def is_part_of(found: list, whole: list) -> bool:
    """Whether `found` is `whole` with things left out."""
    rest = iter(whole)
    return all(any(one == other for other in rest) for one in found)


QUESTION = 8
"""Bytes of a question for registers, which stand ahead of its answer: Modbus V1.1b3, 6.3."""


@st.composite
def streams(draw: st.DrawFn, names: list[str], *, breaks_lines: bool) -> tuple[Shape, bytes, list]:
    """Draw a stream with damage, and what it said that was not damaged."""
    shape = SHAPES[draw(st.sampled_from(names))]
    kinds = ["whole", "whole", "junk line", "junk in"]
    if breaks_lines:
        kinds += ["prefix", "suffix", "no end", "high byte"]
    data, sent, open_line = b"", [], False
    answers = []
    for number in range(draw(st.integers(1, 8))):
        line, says = message(shape, number)
        answers.append((line[max(QUESTION, line.rfind(b"\n:") + 1) :], says))
        kind = draw(st.sampled_from(kinds))
        at = draw(st.integers(1, len(line) - 1))
        if kind == "suffix" and open_line and shape.decode != "modbus":
            kind = "junk line"
        open_line = kind in ("prefix", "no end")
        if kind == "whole":
            data, sent = data + line, sent + says
        elif kind == "junk line":
            data += draw(JUNK) + b"\r\n"
        elif kind == "junk in":
            data, sent = data + line[:at] + draw(JUNK) + line[at:], sent + says
        elif kind == "prefix":
            data += line[:at]
        elif kind == "suffix":
            data += line[at:]
        elif kind == "no end":
            data += line.rstrip(b"\r\n")[: -1 if line[-1:] != b"\n" else None]
        else:
            data += line[:at] + bytes([line[at] ^ 0x80]) + line[at + 1 :]
    if shape.decode == "modbus":
        # What counts is that all bytes of the answer came, whatever became of its question: a cut
        # end may be made good by a first byte that follows.
        sent = [one for answer, says in answers if answer in data for one in says]
    return shape, data, sent


PLACES = st.lists(st.integers(0, 10_000), max_size=12)


@usual
@given(streams(FRAMED, breaks_lines=True), PLACES)
def test_a_damaged_stream_never_gives_a_reading_that_was_not_sent_whole(stream, places):
    shape, data, sent = stream
    _, out = feed(shape, cut(data, places))
    readings = [(o.field, round(o.value, 3)) for o in out if isinstance(o, RawReading) and o.value]
    assert is_part_of(readings, sent)


@usual
@given(streams(sorted(SHAPES), breaks_lines=False), PLACES)
def test_junk_between_and_inside_lines_never_makes_a_reading(stream, places):
    shape, data, sent = stream
    _, out = feed(shape, cut(data, places))
    readings = [(o.field, round(o.value, 3)) for o in out if isinstance(o, RawReading) and o.value]
    assert is_part_of(readings, sent)


@usual
@given(streams(sorted(SHAPES), breaks_lines=True), PLACES, PLACES)
def test_where_a_stream_is_cut_does_not_matter(stream, places, others):
    shape, data, _ = stream
    one, first = feed(shape, cut(data, places))
    other, second = feed(shape, cut(data, others))
    assert untimed(first) == untimed(second)
    assert dict(one.counters) == dict(other.counters)


@usual
@given(st.sampled_from(sorted(SHAPES)), st.binary(max_size=3000), PLACES)
def test_any_bytes_are_counted_to_the_last_one(name, data, places):
    reader, _ = feed(SHAPES[name], cut(data, places))
    counters = reader.counters
    assert counters.bytes == len(data)
    assert counters.bytes == counters.line_bytes + counters.dropped_bytes + counters.waiting
    assert counters.waiting <= SHAPES[name].frame.max + 300


@usual
@given(
    st.sampled_from(sorted(SHAPES)),
    st.lists(
        st.sampled_from([b"\x02", b"\x03", b"\r\n", b"1", b",", b"g", b"{", b"\xff"]), max_size=90
    ),
    PLACES,
)
def test_streams_of_marks_alone_are_cut_anywhere_with_the_same_outcome(name, parts, places):
    data = b"".join(parts)
    _, whole = feed(SHAPES[name], [data])
    _, pieces = feed(SHAPES[name], cut(data, places))
    assert untimed(whole) == untimed(pieces)


@usual
@given(streams(sorted(SHAPES), breaks_lines=True), PLACES)
def test_the_same_chunks_with_the_same_stamps_give_the_same_readings(stream, places):
    shape, data, _ = stream
    assert feed(shape, cut(data, places))[1] == feed(shape, cut(data, places))[1]

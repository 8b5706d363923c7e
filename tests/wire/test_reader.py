"""What each line shape reads, whole and in pieces, and what never becomes a number."""

import pytest

from logger.model.bench import Instrument, PortSettings
from logger.model.reading import Flag, Notice, RawReading
from logger.wire.reader import LineReader, reader_of
from tests.wire.reading_again import read_again
from tests.wire.written import written_shapes

SHAPES = written_shapes()
SIZES = [1, 2, 3, 7, 64, 100_000]


def scale_shapes() -> list[str]:
    return [name for name, s in SHAPES.items() if "mass" in s.channel]


@pytest.mark.parametrize("size", SIZES)
def test_every_shape_reads_what_it_writes_at_any_chunk_size(shape, size, wire):
    sent = [wire.values(shape, step) for step in range(5)]
    data = b"".join(wire.message(shape, values) for values in sent)
    readings = [
        o
        for o in wire.feed(wire.fresh(shape), wire.pieces(data, size))
        if isinstance(o, RawReading)
    ]
    expected = [(name, pytest.approx(v, abs=1e-6)) for values in sent for name, v in values.items()]
    assert sorted((r.field, r.value) for r in readings) == sorted(
        expected, key=lambda pair: (pair[0], pair[1].expected)
    )
    assert {r.unit for r in readings} == {f.unit_out for f in shape.channel.values()}


def test_every_shape_survives_junk_before_between_and_behind(shape, wire):
    whole = wire.message(shape, wire.values(shape))
    junk = b"\xff\xfe\x00q?\x80;\r\n"
    data = junk + whole + junk + whole + b"\xfe\xfe"
    readings = [o for o in wire.feed(wire.fresh(shape), [data]) if isinstance(o, RawReading)]
    assert len(readings) == 2 * len(shape.channel)


def test_counters_sum_to_the_bytes(shape, wire):
    reader = wire.fresh(shape)
    data = wire.message(shape, wire.values(shape)) * 3 + b"junk\r\n" + b"x" * 5000 + b"\r\nhalf"
    wire.feed(reader, wire.pieces(data, 11))
    counters = reader.counters
    assert counters.bytes == len(data)
    assert counters.bytes == counters.line_bytes + counters.dropped_bytes + counters.waiting


@pytest.mark.parametrize("name", scale_shapes())
def test_an_overload_is_an_event_and_never_a_number(name, wire):
    for how, flag in (({"over": True}, Flag.OVER), ({"under": True}, Flag.UNDER)):
        data = wire.message(SHAPES[name], {"mass": 1.0}, **how)
        reading, notice = wire.feed(wire.fresh(SHAPES[name]), [data])
        assert (reading.value, reading.flags) == (None, int(flag))
        assert (notice.kind, notice.field) == (
            "overload" if flag is Flag.OVER else "underload",
            "mass",
        )


def test_a_lasting_overload_is_said_once_and_again_after_a_value(wire):
    shape = SHAPES["flag-first comma weight"]
    over, good = b"OL,GS,+9999999  g\r\n", b"ST,GS,+   12.0  g\r\n"
    out = wire.feed(wire.fresh(shape), [over, over, good, over])
    assert [o.kind for o in out if isinstance(o, Notice)] == ["overload", "overload"]
    assert [o.value for o in out if isinstance(o, RawReading)] == [None, None, 12.0, None]


@pytest.mark.parametrize("name", scale_shapes())
def test_an_unsteady_weight_is_flagged(name, wire):
    lines = [wire.message(SHAPES[name], {"mass": 5.0}, stable=s) for s in (True, False)]
    steady, moving = wire.feed(wire.fresh(SHAPES[name]), lines)
    assert steady.flags & Flag.STABLE
    assert moving.flags & Flag.UNSTABLE
    assert moving.value == 5.0


@pytest.mark.parametrize("name", [n for n in scale_shapes() if "net" in SHAPES[n].flag])
def test_a_tare_is_noticed_by_the_net_mark(name, wire):
    lines = [wire.message(SHAPES[name], {"mass": 5.0}, net=net) for net in (False, True, True)]
    out = wire.feed(wire.fresh(SHAPES[name]), lines)
    assert [o.kind for o in out if isinstance(o, Notice)] == ["tare"]
    assert [bool(o.flags & Flag.NET) for o in out if isinstance(o, RawReading)] == [
        False, True, True,
    ]  # fmt: skip


@pytest.mark.parametrize("name", scale_shapes())
def test_a_unit_switch_changes_no_value_and_is_noticed(name, wire):
    lines = [wire.message(SHAPES[name], {"mass": 453.59237}, unit=u) for u in ("g", "oz", "lb")]
    out = wire.feed(wire.fresh(SHAPES[name]), lines)
    assert [o.kind for o in out if isinstance(o, Notice)] == ["unit_change", "unit_change"]
    values = [o.value for o in out if isinstance(o, RawReading)]
    assert values == pytest.approx([453.59237] * 3, abs=1.5)


@pytest.mark.parametrize("name", scale_shapes())
def test_an_unknown_unit_is_a_bad_line(name, wire):
    out = wire.feed(
        wire.fresh(SHAPES[name]), [wire.message(SHAPES[name], {"mass": 7.0}, unit="pcs")]
    )
    assert [o.kind for o in out] == ["bad_line"]


def test_a_blank_unit_means_the_unit_printed_last(wire):
    """Ounces while moving stay ounces, and before any unit was printed there is no value."""
    shape = SHAPES["fixed columns weight, blank unit"]
    lines = [b"+     2.00    \r\n", b"+     1.00 oz \r\n", b"+     2.00    \r\n"]
    ounce, after = wire.feed(wire.fresh(shape), lines)
    assert after.value == pytest.approx(2 * ounce.value)
    assert after.flags & Flag.UNSTABLE


def test_a_line_of_fixed_columns_that_lost_a_digit_is_refused(wire):
    shape = SHAPES["fixed columns weight, blank unit"]
    out = wire.feed(wire.fresh(shape), [b"+    12.34 g  \r\n", b"+    1.34 g  \r\n"])
    assert wire.said(out)[0] == ("mass", 12.34, "g", 1)
    assert [o.kind for o in out[1:]] == ["bad_line"]


def test_a_check_byte_that_does_not_fit_makes_a_bad_line(wire):
    shape = SHAPES["control characters weight, check byte"]
    good = wire.message(shape, {"mass": 12.3})
    bad = good.replace(b"12.3", b"12.8")
    assert [o.kind for o in wire.feed(wire.fresh(shape), [bad])] == ["bad_line"]
    assert wire.feed(wire.fresh(shape), [bad[:-1] + good])[-1].value == 12.3


@pytest.mark.parametrize("name", [n for n in SHAPES if "t1" in SHAPES[n].channel])
def test_an_open_probe_is_no_number_and_an_event(name, wire):
    values = wire.values(SHAPES[name]) | {"t1": None}
    out = wire.feed(wire.fresh(SHAPES[name]), [wire.message(SHAPES[name], values)])
    reading = next(o for o in out if isinstance(o, RawReading) and o.field == "t1")
    assert (reading.value, reading.flags) == (None, int(Flag.OPEN))
    assert [(o.kind, o.field) for o in out if isinstance(o, Notice)] == [("open", "t1")]
    others = [o.value for o in out if isinstance(o, RawReading) and o.field not in ("t1", "cj")]
    assert None not in others


@pytest.mark.parametrize(
    ("line", "values"),
    [
        (b"21.50,22.13,,OPEN", [21.5, 22.13, None, None]),
        (b"9.9E37,-999.0,1,-2.5", [None, None, 1.0, -2.5]),
    ],
)
def test_every_way_to_say_open_in_a_comma_list(line, values, wire):
    out = wire.feed(wire.fresh(SHAPES["comma list of probes"]), [line + b"\r\n"])
    assert [o.value for o in out if isinstance(o, RawReading)] == values


@pytest.mark.parametrize(
    "line",
    [
        b"21.50,22.13,20.00", b"21.50,22.13,20.00,19.99,18.00", b"21.5x,22.13,20,19",
        b"nano,1,2,3", b"1e5,1,2,3", b"21.50;22.13;20;19", b"21.\xb050,1,2,3", b"2 1.5,1,2,3",
        b"\x0021.5,1,2,\x003", b"21.5,22.1\x0b,2,3", "２1.5,1,2,3".encode(), b"- 1,1,2,3",
    ],
)  # fmt: skip
def test_a_line_that_does_not_fit_whole_gives_nothing(line, wire):
    out = wire.feed(wire.fresh(SHAPES["comma list of probes"]), [line + b"\r\n"])
    assert [o.kind for o in out] == ["bad_line"]


def test_a_leading_nul_is_stripped(wire):
    out = wire.feed(wire.fresh(SHAPES["comma list of probes"]), [b"\x00\x001,2,3,4\r\n"])
    assert [o.value for o in out] == [1.0, 2.0, 3.0, 4.0]


@pytest.mark.parametrize(
    "line", [b"ST,GS,+   1.0  gST,GS,+   1.0  g", b"ST,GS,+  12", b"OL,GS,9999999", b"+ 1.0 g"]
)
def test_merged_and_truncated_weights_are_refused(line, wire):
    out = wire.feed(wire.fresh(SHAPES["flag-first comma weight"]), [line + b"\r\n"])
    assert not [o for o in out if isinstance(o, RawReading) and o.value is not None]


def test_named_values_refuse_a_merged_name(wire):
    shape = SHAPES["named values in a line"]
    out = wire.feed(wire.fresh(shape), [b"T1=2T1=21.50 T2=1.0\r\n", b"T1=2.0 T1=2.0\r\n"])
    assert [o.kind for o in out] == ["bad_line"]


def test_names_nobody_declared_become_fields_of_their_own(wire):
    out = wire.feed(wire.fresh(SHAPES["named values in a line"]), [b"T1=2.0 T9=30.5\r\n"])
    assert wire.said(out) == [("t1", 2.0, "degC", 0), ("t9", 30.5, "degC", 0)]


@pytest.mark.parametrize(
    "line",
    [
        b'{"uv":[1,2,3],"cj":24,"fault":[0,0,0,0]}',
        b'{"uv":[1,2,3,"4"],"cj":24,"fault":[0,0,0,0]}',
        b'{"uv":[1,2,3,4],"cj":24,"fault":[0,0,0,0]}{"uv":[1', b"[1,2]", b"7", b"{" * 300,
        b'{"uv":[1,2,3,4],"cj":24,"cj":99,"fault":[0,0,0,0]}', b"[" * 390,
        b'{"uv":[1,2,3,true],"cj":24,"fault":[0,0,0,0]}',
        b'{"uv":[1,2,3,1e999],"cj":24,"fault":[0,0,0,0]}',
    ],
)  # fmt: skip
def test_an_object_that_is_not_the_declared_one_gives_nothing(line, wire):
    out = wire.feed(wire.fresh(SHAPES["one object per line, microvolts"]), [line + b"\r\n"])
    assert [o.kind for o in out] == ["bad_line"]


def test_microvolts_come_with_their_cold_junction(wire):
    shape = SHAPES["one object per line, microvolts"]
    data = wire.message(shape, {"t1": 812.5, "t2": 1.0, "t3": 1.0, "t4": 1.0, "cj": 24.31})
    first = wire.feed(wire.fresh(shape), [data])[0]
    assert (first.value, first.unit, first.cold_junction_c) == (812.5, "uV", 24.31)


@pytest.mark.parametrize(
    ("code", "flag", "text"),
    [
        (1, Flag.OPEN, "open circuit"), (2, Flag.FAULT, "touches ground"),
        (4, Flag.FAULT, "touches supply"), (6, Flag.FAULT, "touches ground and touches supply"),
        (8, Flag.FAULT, "fault bits 8"),
    ],
)  # fmt: skip
def test_fault_bits_say_what_is_wrong(code, flag, text, wire):
    line = b'{"uv":[1,2,3,4],"cj":24,"fault":[0,%d,0,0]}\r\n' % code
    out = wire.feed(wire.fresh(SHAPES["one object per line, microvolts"]), [line])
    assert next(o for o in out if o.field == "t2")[2:5:2] == (None, int(flag))
    assert [o.text for o in out if isinstance(o, Notice)] == [text]


def test_a_cold_junction_outside_its_range_is_kept_and_flagged(wire):
    line = b'{"uv":[1,2,3,4],"cj":51.0,"fault":[0,0,0,0]}\r\n'
    out = wire.feed(wire.fresh(SHAPES["one object per line, microvolts"]), [line])
    assert wire.said(out)[-1] == ("cj", 51.0, "degC", int(Flag.OUT_OF_RANGE))


def test_banner_and_comments_make_no_reading(wire):
    out = wire.feed(
        wire.fresh(SHAPES["chatty board"]),
        [b"ready, 4 probes\r\n# degC\r\n\r\n1.0\t2.0\t3.0\tOPEN\r\n"],
    )
    assert [o.kind for o in out if isinstance(o, Notice)] == ["banner", "open"]
    assert [o.value for o in out if isinstance(o, RawReading)] == [1.0, 2.0, 3.0, None]


def test_the_first_piece_of_a_line_under_way_is_dropped(wire):
    """Half a line would read 2.73 for 12.73."""
    shape = SHAPES["fixed width weight, trailing question mark"]
    reader = wire.fresh(shape, at_start=False)
    out = reader.feed(b"2.73 g    \r\n      12.80 g    \r\n", 0)
    assert [o.value for o in out] == [12.80]


def test_a_line_after_a_quiet_moment_is_read_from_its_first_byte(wire):
    """A scale with a print key sends one line; it must not be lost."""
    shape = SHAPES["fixed width weight, trailing question mark"]
    line = b"      12.80 g    \r\n"
    for quiet_ns, expected in ((10_000_000, []), (500_000_000, [12.80])):
        reader = LineReader(shape, settings=PortSettings(), delay_s=0.0)
        reader.reset(1_000_000_000)
        assert [o.value for o in reader.feed(line, 1_000_000_000 + quiet_ns)] == expected


def test_after_a_reset_the_half_line_is_dropped(wire):
    reader = wire.fresh(SHAPES["comma list of probes"])
    assert reader.feed(b"1,2,3,4\r\n1,2,3", 0)
    reader.reset(1_000)
    out = reader.feed(b"9.5\r\n5,6,7,8\r\n", 2_000_000)
    assert [o.value for o in out] == [5.0, 6.0, 7.0, 8.0]


def test_after_a_quiet_reopening_the_half_line_before_does_not_merge(wire):
    """``9`` of the lost line before ``5,6,7,8`` would make 95."""
    reader = wire.fresh(SHAPES["comma list of probes"])
    assert reader.feed(b"1,2,3,4\r\n9", 0)
    reader.reset(1_000_000_000)
    out = reader.feed(b"5,6,7,8\r\n", 2_000_000_000)
    assert [o.value for o in out] == [5.0, 6.0, 7.0, 8.0]


def test_an_endless_line_is_one_notice_and_the_next_line_reads(wire):
    reader = wire.fresh(SHAPES["comma list of probes"])
    out = wire.feed(reader, wire.pieces(b"7" * 1_000_000 + b"\r\n1,2,3,4\r\n", 4096))
    assert [o.kind for o in out[:-4]] == ["too_long"]
    assert [o.value for o in out[-4:]] == [1.0, 2.0, 3.0, 4.0]
    assert reader.counters.waiting < 4096


def test_sample_time_is_arrival_less_transit_and_delays():
    """16 characters of 7 data bits, parity and one stop bit: 10 bits each at 2400 baud."""
    shape = SHAPES["fixed width weight, trailing question mark"]
    reader = LineReader(shape, settings=PortSettings(), delay_s=0.5)
    reader.reset(0)
    line = b"      12.73 g  \r\n"
    (reading,) = reader.feed(line, 2_000_000_000)
    transit_ns = len(line) * 10 / 2400 * 1e9
    assert reading.t_ns == pytest.approx(2_000_000_000 - transit_ns - 5e8, abs=2)


def test_the_bench_file_settles_baud_and_delay():
    shape = SHAPES["comma list of probes"]
    instrument = Instrument(
        id="p",
        port="x",
        shape=shape.name,
        settings=PortSettings(baud=1200, parity="E"),
        delay="1 s",
    )
    reader = reader_of(instrument, shape)
    reader.reset(0)
    out = reader.feed(b"1,2,3,4\r\n", 5_000_000_000)
    assert out[0].t_ns == pytest.approx(4e9 - 9 * 11 / 1200 * 1e9, abs=2)


def test_earlier_lines_of_one_chunk_came_earlier(wire):
    shape = SHAPES["comma list of 1 probe"]
    out = wire.fresh(shape).feed(b"1.0\r\n2.0\r\n3.0\r\n", 1_000_000_000)
    gap_ns = 5 * 10 / 9600 * 1e9
    times = [o.t_ns for o in out]
    assert times[-1] - times[0] == pytest.approx(2 * gap_ns, abs=4)
    assert times[-1] == pytest.approx(1e9 - gap_ns, abs=2)


def test_times_of_one_instrument_never_go_back(wire):
    shape = SHAPES["comma list of 1 probe"]
    reader = wire.fresh(shape)
    out = reader.feed(b"1.0\r\n" * 50, 1_000) + reader.feed(b"2.0\r\n" * 50, 2_000)
    times = [o.t_ns for o in out]
    assert times == sorted(set(times))


def test_the_share_of_bad_lines_looks_back_five_seconds(wire):
    reader = wire.fresh(SHAPES["comma list of 1 probe"])
    reader.feed(b"x\r\n", 0)
    reader.feed(b"1.0\r\n" * 3, 1_000_000_000)
    assert reader.bad_share(1_000_000_000) == 0.25
    assert reader.bad_share(5_500_000_000) == 0.0
    assert reader.bad_share(20_000_000_000) == 0.0


def test_replay_of_the_records_gives_the_same_readings(shape, wire):
    data = wire.message(shape, wire.values(shape)) * 4
    records = [("open", 0, b"")]
    records += [
        ("data", 200_000_000 + n * 7_000_000, piece)
        for n, piece in enumerate(wire.pieces(data, 13))
    ]
    records += [("close", 9_000_000_000, b""), ("open", 9_100_000_000, b"")]
    records += [("data", 9_500_000_000, data)]
    instrument = Instrument(id="i", port="x", shape=shape.name)
    first, second = (list(read_again(reader_of(instrument, shape), records)) for _ in range(2))
    assert first == second
    assert sum(isinstance(o, RawReading) for _, out in first for o in out) == 8 * len(shape.channel)

"""CSV files from elsewhere: taken in right, or refused with row and column."""

import numpy as np
import pytest

from logger.model.errors import InputError
from logger.model.event import Event
from logger.model.reading import Flag
from logger.store.exchange.importing import read_csv
from logger.store.run.records import StoredReading

S = 1_000_000_000


def test_a_wide_file_gives_each_channel_its_readings_in_base_units():
    found = read_csv(
        "time_s,fat [degF],bath [degC],bath_scale [oz],core [K]\n"
        "0,113,18.5,1,273.15\n"
        "0.5,,18.6,2.5,\n"
    )
    assert found.units == {"fat": "degC", "bath": "degC", "bath_scale": "g", "core": "degC"}
    by = {c: [(r.t_ns, r.value) for r in found.readings if r.channel == c] for c in found.units}
    assert by["fat"] == [(0, 45.0)]
    assert by["bath"] == [(0, 18.5), (S // 2, 18.6)]
    # NIST SP 811, appendix B.9: 1 oz avoirdupois = 28.349523125 g.
    assert by["bath_scale"] == [(0, 28.349523125), (S // 2, 70.873807813)]
    assert by["core"] == [(0, 0.0)]
    assert found.duration_ns == S // 2
    assert found.report == []


def test_a_long_file_gives_the_same_as_a_wide_one():
    wide = read_csv("time_s,fat [degC],bath_scale [g]\n0,45.2,812.4\n1,45.1,812.5\n")
    long = read_csv(
        "time_s,channel,value,unit\n"
        "0,fat,45.2,degC\n0,bath_scale,812.4,g\n1,fat,45.1,°C\n1,bath_scale,0.8125,kg\n"
    )
    assert sorted(long.readings) == sorted(wide.readings)
    assert long.units == wide.units


def test_a_long_file_keeps_flags_and_readings_without_value():
    found = read_csv(
        "time_s,channel,value,unit,flags,cold_junction_c\n0,fat,812.5,uV,1,23.75\n1,fat,,uV,32,\n"
    )
    assert found.readings == [
        StoredReading("fat", 0, 812.5, int(Flag.STABLE), 23.75),
        StoredReading("fat", S, None, int(Flag.OPEN), None),
    ]


def test_iso_times_give_the_start_and_the_axis():
    found = read_csv(
        "time,fat [degC]\n2026-11-25T09:13:02.250+01:00,45\n2026-11-25T09:13:03,44\n".replace(
            ":03,", ":03+01:00,"
        )
    )
    assert found.started_utc_ns == 1_795_594_382_250_000_000
    assert [r.t_ns for r in found.readings] == [0, 750_000_000]
    assert found.zone == "Etc/GMT-1"


def test_times_without_offset_are_taken_as_utc_and_that_is_said():
    found = read_csv("time,fat [degC]\n2026-11-25T08:13:02,45\n")
    assert found.started_utc_ns == 1_795_594_382_000_000_000
    assert "taken as UTC" in found.report[0]
    with pytest.raises(InputError, match=r"row 3.*with and without an offset"):
        read_csv("time,fat [degC]\n2026-11-25T08:13:02,45\n2026-11-25T08:13:03Z,45\n")


def test_out_of_order_and_double_times_are_sorted_out_and_reported():
    found = read_csv("time_s,fat [degC]\n0,1\n2,3\n1,2\n2,3\n1,9\n")
    assert [(r.t_ns // S, r.value) for r in found.readings] == [(0, 1.0), (1, 2.0), (2, 3.0)]
    assert found.report == [
        "fat: times went back 2 times, first at row 4; sorted",
        "fat: 2 times occur twice, first at row 5; the first value was kept "
        "(1 of the others differ)",
    ]


def test_a_byte_order_mark_crlf_and_quotes_are_nothing_special(tmp_path):
    path = tmp_path / "run.csv"
    path.write_bytes('\ufefftime_s,"fat [degC]"\r\n0,"45.5"\r\n\r\n 1 , 45.25 \r\n'.encode())
    found = read_csv(path)
    assert [r.value for r in found.readings] == [45.5, 45.25]
    assert "last change" in found.report[0]
    assert found.started_utc_ns == path.stat().st_mtime_ns


def test_times_are_exact_to_the_microsecond():
    """A float times 1e9 would land one microsecond low on some of these."""
    stamps = [0.000001, 0.29, 1.1, 4.35, 1001.000003, 8999.999999]
    text = "time_s,fat [degC]\n" + "".join(f"{t:.6f},1\n" for t in stamps)
    expected = [int(f"{t:.6f}".replace(".", "")) * 1000 for t in stamps]
    assert [r.t_ns for r in read_csv(text).readings] == expected


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("time_s,fat [degC]\n0,12,3\n", r"row 2: 3 cells; the head has 2"),
        ("time_s,fat [degC]\n0,1\n1\n", r"row 3: 1 cell of 2; the row is cut off"),
        ("time_s,fat [degC]\n0,=1+1\n", r"row 2, column 2 \(fat \[degC\]\): '=1\+1'; .*formula"),
        ("time_s,fat [degC]\n0,@SUM(A1)\n", r"row 2, column 2.*formula"),
        ("time_s,fat [degC]\n0,-A1\n", r"row 2, column 2.*formula"),
        ('time_s,fat [degC]\n0,"45,2"\n', r"row 2, column 2.*write 45.2, with a point"),
        ("time_s,fat [degC]\n0,nan\n", r"row 2, column 2.*leave the cell empty"),
        ("time_s,fat [degC]\n0,1e999\n", r"row 2, column 2"),
        ("time_s,fat [degC]\n0,9.9E37\n", r"row 2, column 2.*leave the cell empty"),
        ("time_s,fat [degC]\n0,1_0\n", r"row 2, column 2"),
        ("time_s,fat [degC]\n0,٤٥\n", r"row 2, column 2"),
        ("time_s,fat [degC]\n0,\x00\n", r"row 2, column 2"),
        ("time_s,fat [degC]\nnoon,1\n", r"row 2, column 1 \(time_s\)"),
        ("time_s,fat [degC]\n=NOW(),1\n", r"row 2, column 1 \(time_s\).*formula"),
        ("time_s,fat [degC]\n1e12,1\n", r"row 2, column 1.*up to 1000000000"),
        ("time,fat [degC]\n12,1\n", r"row 2, column 1 \(time\).*ISO 8601"),
        ("time_s;fat [degC]\n0;1\n", r"row 1: semicolons"),
        ("fat [degC],time_s\n1,0\n", r"row 1, column 1: 'fat \[degC\]'; name the first column"),
        ("time_s,fat\n0,1\n", r"row 1, column 2: 'fat'; name a column with its unit"),
        ("time_s,fat [m]\n0,1\n", r"row 1, column 2: unit 'm'; expected a unit of temperature"),
        ("time_s,fat [delta_degC]\n0,1\n", r"unit 'delta_degC'"),
        ("time_s,fat [9**9**9**9]\n0,1\n", r"unit '9\*\*9"),
        ("time_s,fat [degC],fat [degF]\n0,1,2\n", r"row 1, column 3.*already has a column"),
        ("time_s\n0\n", r"no channel"),
        ("time_s,fat [degC]\n", r"no readings"),
        ("time_s,fat [degC]\n0,\n", r"no readings"),
        ("\n\n", r"an empty file"),
        ('time_s,fat [degC]\n0,"45\n', r"row 3|correct the quotes"),
        ("time_s,fat [degC]\n0," + "1" * 3000 + "\n", r"very long cell"),
        ("time_s,channel,value,unit\n0,fat,1,degC\n1,fat,1,g\n", r"row 3, column 4.*was in degC"),
        ("time_s,channel,value,unit\n0,=fat,1,degC\n", r"row 2, column 2"),
        ("time_s,channel,value,unit,flags\n0,fat,1,degC,x\n", r"row 2, column 5.*whole number"),
    ],
)
def test_a_bad_cell_is_refused_with_row_and_column(text, said):
    with pytest.raises(InputError, match=said):
        read_csv(text)


def test_text_that_is_not_utf_8_is_refused_with_its_row(tmp_path):
    path = tmp_path / "latin.csv"
    path.write_bytes("time_s,fat [degC]\n0,1\n1,5°\n".encode("latin-1"))
    with pytest.raises(InputError, match=r"row 3: text that is not UTF-8"):
        read_csv(path)


def test_a_missing_file_is_an_input_error(tmp_path):
    with pytest.raises(InputError, match="no such file"):
        read_csv(tmp_path / "none.csv")


def events_of(tmp_path, text: str, readings: str = "time_s,fat [degC]\n0,1\n"):
    path = tmp_path / "events.csv"
    path.write_text(text)
    return read_csv(readings, path)


def test_events_become_what_a_person_says(tmp_path):
    found = events_of(
        tmp_path,
        "time_s,event,text\n5,stage:skin,\n0,stage:warm,\n6.5,piece_in:2,\n7,note,=held\n"
        "8,mark,\n9,valve opened,by hand\n",
    )
    assert found.events == [
        Event(t_ns=0, kind="stage", source="operator", data={"stage": "warm"}),
        Event(t_ns=5 * S, kind="stage", source="operator", data={"stage": "skin"}),
        Event(t_ns=6 * S + S // 2, kind="piece_in", source="operator", data={"piece": 2}),
        Event(t_ns=7 * S, kind="note", source="operator", text="=held"),
        Event(t_ns=8 * S, kind="mark", source="operator"),
        Event(t_ns=9 * S, kind="note", source="operator", text="valve opened: by hand"),
    ]
    assert found.duration_ns == 9 * S
    assert found.report == [
        "events.csv: row 7: event 'valve opened' is kept as a note",
        "events were out of order; sorted",
    ]


def test_dated_events_stand_on_the_axis_of_the_readings(tmp_path):
    readings = "time,fat [degC]\n2026-11-25T08:13:02Z,45\n"
    found = events_of(tmp_path, "time,event\n2026-11-25T08:13:04Z,mark\n", readings)
    assert found.events[0].t_ns == 2 * S


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("time_s,event,text\n0,stgae:warm,\n", r"row 2, column 2.*did you mean 'stage'"),
        ("time_s,event,text\n0,,\n", r"row 2, column 2 \(event\): ''"),
        ("time_s,event,text\n0,stage:,\n", r"row 2, column 2"),
        ("time_s,text\n0,x\n", r"no column event"),
        ("time,event\n2026-11-25T08:13:04Z,mark\n", r"the readings have time_s"),
        ("time_s,event,data\n0,mark,[1\n", r"row 2, column 3.*not a JSON object"),
    ],
)
def test_a_bad_event_is_refused_with_row_and_column(tmp_path, text, said):
    with pytest.raises(InputError, match=said):
        events_of(tmp_path, text)


def test_two_hundred_thousand_cells_are_read_right():
    rows = 20_000
    values = np.round(np.linspace(20, 80, rows), 2).tolist()
    lines = [f"{n / 10:.1f}," + ",".join([str(v)] * 10) for n, v in enumerate(values)]
    head = "time_s," + ",".join(f"c{n} [degC]" for n in range(10))
    found = read_csv(head + "\n" + "\n".join(lines) + "\n")
    assert len(found.readings) == 10 * rows
    assert [r.value for r in found.readings if r.channel == "c7"] == values


def test_many_events_that_are_kept_as_notes_are_counted_not_listed(tmp_path):
    found = events_of(
        tmp_path, "time_s,event\n" + "".join(f"{n},{'x' * 900}{n}\n" for n in range(500))
    )
    assert len(found.events) == 500
    assert len(found.report) == 21
    assert found.report[-1].endswith("480 more events are kept as notes")
    assert max(map(len, found.report)) < 150


def test_local_times_over_the_end_of_summer_time_are_refused_with_what_to_write():
    text = "time,fat [degC]\n2026-10-25T02:59:58,20\n2026-10-25T02:00:01,21\n"
    with pytest.raises(InputError, match=r"row 3, column 1.*summer time ends; .*offset"):
        read_csv(text)
    offsets = text.replace("58,", "58+02:00,").replace("01,", "01+01:00,")
    assert read_csv(offsets).duration_ns == 3 * S


def test_what_happens_once_is_said_in_the_singular():
    assert read_csv("time_s,fat [degC]\n0,1\n2,3\n1,2\n").report == [
        "fat: times went back once at row 4; sorted"
    ]
    with pytest.raises(InputError, match="1 cell of 2;"):
        read_csv("time_s,fat [degC]\n0,1\n2\n")

"""A large file read in pieces gives the same run as one that is held."""

import tracemalloc

import pytest

from logger.model.errors import InputError
from logger.store.exchange import importing, plainrows, streaming
from logger.store.exchange.importing import read_csv

WIDE = "time,fat [degF],bath_scale [g]\n" + "".join(
    f"2026-11-25T09:13:{n:02d}.500+01:00,{100 + n % 7},{5000 - n}\n" for n in [*range(60), 59]
)
LONG = "time_s,channel,value,unit,flags,cold_junction_c\n" + "".join(
    f"{n / 10},{channel},{value},{unit},{n % 3},{cold}\n"
    for n in range(400)
    for channel, value, unit, cold in (
        ("fat", 40 + n / 100, "degC", ""),
        ("bath", 800 + n, "uV", 21.5),
        ("bath_scale", "" if n % 9 == 0 else 5 - n / 1000, "kg" if n > 200 else "g", ""),
    )
)


def by_channel(readings):
    found = {}
    for reading in sorted(readings, key=lambda r: r.t_ns):
        found.setdefault(reading.channel, []).append(reading)
    return found


@pytest.mark.parametrize("text", [WIDE, LONG], ids=["wide", "long"])
@pytest.mark.parametrize("piece", [7, 50_000])
def test_a_file_read_in_pieces_gives_what_one_that_is_held_gives(
    tmp_path, monkeypatch, text, piece
):
    path = tmp_path / "x.csv"
    path.write_text(text)
    held = read_csv(path)
    monkeypatch.setattr(importing, "LARGE_BYTES", 0)
    monkeypatch.setattr(streaming, "PIECE", piece)
    told = []
    large = read_csv(path, None, told.append)
    assert isinstance(large, streaming.LargeRun)
    assert (large.units, large.zone, large.started_utc_ns, large.duration_ns) == (
        held.units, held.zone, held.started_utc_ns, held.duration_ns,
    )  # fmt: skip
    handed = []
    large.hand_over(handed.extend)
    assert by_channel(handed) == by_channel(held.readings)
    assert told
    assert all(0.0 <= share <= 1.0 for share in told)
    twice = [sum("twice" in said for said in run.report) for run in (large, held)]
    assert twice[0] == twice[1]


def test_times_that_go_back_in_a_large_file_are_refused_with_their_row(tmp_path, monkeypatch):
    monkeypatch.setattr(importing, "LARGE_BYTES", 0)
    path = tmp_path / "x.csv"
    path.write_text("time_s,fat [degC]\n0,1\n2,1\n1,1\n")
    with pytest.raises(InputError, match=r"row 4, column 1 \(time_s\): times of fat go back"):
        read_csv(path)


def most_taken(read) -> int:
    tracemalloc.start()
    read()
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return most


@pytest.mark.slow
def test_the_memory_of_a_large_file_does_not_grow_with_it(tmp_path, monkeypatch):
    monkeypatch.setattr(importing, "LARGE_BYTES", 0)
    monkeypatch.setattr(streaming, "PIECE", 1_000)
    monkeypatch.setattr(plainrows, "FIRST_BYTES", 10_000)
    monkeypatch.setattr(plainrows, "PIECE_BYTES", 10_000)
    taken = []
    for rows in (5_000, 50_000):
        path = tmp_path / f"{rows}.csv"
        path.write_text(
            "time_s,fat [degC]\n" + "".join(f"{n / 10},4{n % 10}.5\n" for n in range(rows))
        )
        taken.append(most_taken(lambda path=path: read_csv(path).hand_over(len)))
    assert taken[1] < 1.5 * taken[0]

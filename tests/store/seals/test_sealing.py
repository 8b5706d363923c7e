"""What is written is sealed: changed, swapped and vanished rows are named, and never laundered."""

from typing import get_args

import apsw
import numpy as np
import pytest

from logger.model.errors import StoreError
from logger.model.event import Event
from logger.store.exchange.exporting import export
from logger.store.run.errors import DamagedError
from logger.store.run.records import Anchor, Chunk, StoredReading, WriteBatch
from logger.store.run.runfile import RunView, RunWriter
from logger.store.seals.damage import SAID, Damage, DamagedPart, sentence, sentences
from logger.store.seals.digest import TAIL_ROW, Sealer, packed_rows


@pytest.fixture
def under_way(writer, run_path):
    """A run of ten seconds: blocks up to 6 s, tail rows behind."""
    for second in range(10):
        writer.write(
            WriteBatch(
                readings=[
                    StoredReading(channel, second * 10**9 + part * 10**8, second + part / 10)
                    for channel in ("fat", "bath")
                    for part in range(10)
                ],
                chunks=[Chunk("probes", second * 10**9, "data", b"%d\r\n" % second)],
                events=[Event(t_ns=second * 10**9, kind="note", source="operator", text="stir")],
                anchors=[Anchor("b00t", second, second, second, "UTC", second)],
                counters={"probes": {"lines": second}},
            )
        )
        if second in (2, 5):
            writer.compact(force=True)
    return writer


def change(path, sql):
    with apsw.Connection(str(path)) as db:
        db.execute(sql)


CHANGES = {
    "UPDATE tail SET value = 60.0 WHERE channel = 0 AND n = 75": "readings",
    "UPDATE tail SET t_us = t_us + 1 WHERE channel = 0 AND n = 75": "readings",
    "DELETE FROM tail WHERE channel = 0 AND n = 75": "readings",
    "DELETE FROM tail WHERE channel = 0 AND n >= 90": "readings",
    "DELETE FROM block WHERE channel = 0 AND first_n = 0": "readings",
    "UPDATE block SET t_min_us = t_min_us + 9000000 WHERE channel = 0": "readings",
    "UPDATE block SET high = 90.0 WHERE channel = 0": "readings",
    "UPDATE block SET channel = 2 WHERE channel = 0 AND first_n = 30": "readings",
    "UPDATE block SET fine = columns WHERE channel = 0": "overview",
    "UPDATE event SET t_ns = t_ns + 1 WHERE seq = 4": "events",
    "DELETE FROM event WHERE seq = 10": "events",
    "UPDATE chunk SET instrument = 1": "raw bytes",
    "DELETE FROM chunk_block WHERE first_n = 0": "raw bytes",
    "UPDATE channel SET unit = 'g' WHERE number = 0": "channel",
    "DELETE FROM channel WHERE number = 2": "channel",
    "UPDATE instrument SET id = 'scale'": "raw bytes",
    "UPDATE anchor SET utc_ns = utc_ns + 1 WHERE id = 3": "clocks",
    "DELETE FROM anchor WHERE id = 10": "clocks",
    "UPDATE counter SET counts = '{}'": "counters",
    "UPDATE run SET sheet_json = replace(sheet_json, '180', '190')": "sheet",
    "UPDATE run SET bench_text = ''": "bench text",
    "UPDATE run SET outcome = 'accepted'": "outcome",
    "UPDATE run SET results = '{}'": "results",
    "UPDATE run SET interrupted = 1": "end",
    "UPDATE run SET zone = 'UTC'": "header",
    "UPDATE tally SET counts = x'0000000000000000'": "counts",
}


@pytest.mark.parametrize("sql", CHANGES)
def test_a_changed_or_vanished_row_is_named(under_way, run_path, sql):
    change(run_path, sql)
    view = RunView(run_path, tolerant=True)
    damage = view.damage()
    assert CHANGES[sql] in {one.part for one in damage}
    if CHANGES[sql] == "readings":
        assert {one.channel for one in damage} <= {"fat", "bath_scale"}
        assert len(view.readings("bath")) == 100
        with pytest.raises(DamagedError):
            RunView.open(run_path).readings("fat")
    with pytest.raises(StoreError):
        export(RunView(run_path), "json", run_path.with_name("out.json"))


def test_damage_is_named_by_time_and_the_rest_is_read(under_way, run_path):
    change(run_path, "UPDATE tail SET value = 60.0 WHERE channel = 0 AND n = 75")
    view = RunView.open(run_path, tolerant=True)
    assert view.damage() == [
        Damage(part="readings", channel="fat", from_s=6.9, to_s=8.0, first=70, last=79)
    ]
    kept = view.readings("fat").t_ns
    assert len(kept) == 90
    assert not ((kept >= 7 * 10**9) & (kept < 8 * 10**9)).any()
    assert view.overview("fat", points=5).n.sum() == 90
    assert len(RunView.open(run_path).readings("fat", to_ns=6 * 10**9)) == 61


def test_a_name_of_the_run_that_is_damaged_in_one_place_is_known_from_the_other(
    under_way, run_path
):
    change(run_path, "UPDATE tally SET run_id = '20261125-0913-a3f3'")
    view = RunView.open(run_path)
    assert [one.part for one in view.damage()] == ["counts"]
    assert len(view.readings("fat")) == 100


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE tail SET value = 60.0 WHERE channel = 0 AND n = 75",
        "DELETE FROM tail WHERE channel = 0 AND n = 75",
        "UPDATE blob SET data = zeroblob(90) WHERE id = (SELECT columns FROM block "
        "WHERE channel = 0 AND first_n = 30)",
        "DELETE FROM block WHERE channel = 0 AND first_n = 30",
    ],
)
def test_compaction_and_the_end_of_the_run_launder_nothing(under_way, run_path, sql):
    under_way.close()
    before = RunView.open(run_path).readings("fat")
    change(run_path, sql)
    gone = [(one.first, one.last) for one in RunView.open(run_path).damage()]
    with RunWriter.reopen(run_path) as file:
        file.write(WriteBatch(readings=[StoredReading("fat", 11 * 10**9, 11.0)]))
        file.finish(None, 1)
    view = RunView.open(run_path, tolerant=True)
    assert [(one.first, one.last) for one in view.damage()] == gone
    after = view.readings("fat")
    assert len(after) == 101 - sum(last - first + 1 for first, last in gone)
    assert np.isin(after.t_ns[:-1], before.t_ns).all()


def test_counts_that_were_damaged_when_the_file_was_written_stay_doubted(under_way, run_path):
    under_way.close()
    change(run_path, "UPDATE tally SET counts = x'0000000000000000'")
    RunWriter.reopen(run_path).close()
    with RunWriter.reopen(run_path) as file:
        file.add_note("tasted")
    assert [one.part for one in RunView.open(run_path).damage()] == ["counts"]


def test_a_group_of_rows_that_compaction_cuts_in_two_stays_sealed(writer, run_path):
    rows = [StoredReading("fat", n * 10**6, float(n)) for n in range(5000)]
    writer.write(WriteBatch(readings=rows))
    writer.compact()
    assert RunView.open(run_path).check() == "ok"
    assert RunView.open(run_path).count("fat") == 5000
    assert writer._db.execute("SELECT count(*) FROM tail").get == 5000 - 4096


def test_rows_of_another_run_channel_or_table_do_not_fit():
    fields = ("fat", 3, 20.5, None)
    seal = Sealer("a").row("event", *fields)
    assert seal == Sealer("a").row("event", *fields)
    assert seal != Sealer("b").row("event", *fields)
    assert seal != Sealer("a").row("anchor", *fields)
    assert seal != Sealer("a").row("event", "fat", 3.0, 20.5, None)
    assert seal != Sealer("a").row("event", "fa", "t", 3, 20.5)
    assert Sealer("a").group(1, b"x") != Sealer("a").group(2, b"x")


def test_rows_packed_one_by_one_and_together_are_the_same():
    nan = float("nan")
    one_by_one = TAIL_ROW.pack(0, 5, 20.5, 0, nan) + TAIL_ROW.pack(1, 6, nan, 2, 21.0)
    together = packed_rows([(0, 5, 20.5, 0, None), (1, 6, None, 2, 21.0)])
    assert one_by_one == together.tobytes()


def test_every_damaged_part_has_a_sentence_and_readings_name_the_way_back():
    parts = get_args(DamagedPart)
    for part in parts:
        assert sentence(Damage(part=part, channel="fat", first=1, last=2)).endswith(".")
    assert set(SAID) | {"readings", "overview", "raw bytes", "events"} == set(parts)
    found = sentences([Damage(part="readings", channel="fat", from_s=12, to_s=25)])
    assert found[0] == "Readings of fat are damaged from 0:12 to 0:25."
    assert "bainlog replay" in found[1]


def test_bytes_whose_type_became_text_are_bytes_still(under_way, run_path):
    before = list(RunView(run_path).chunks())
    change(run_path, "UPDATE chunk SET data = CAST(data AS TEXT)")
    view = RunView(run_path)
    assert list(view.chunks()) == before
    assert view.damage() == []


@pytest.mark.parametrize(
    "sql", ["DELETE FROM event WHERE seq = 10", "DELETE FROM tail WHERE channel = 0 AND n >= 90"]
)
def test_a_length_is_not_told_where_the_last_of_a_run_is_damaged(under_way, run_path, sql):
    whole_ns = RunView(run_path).duration_ns
    change(run_path, sql)
    with pytest.raises(DamagedError):
        _ = RunView(run_path).duration_ns
    assert 0 < RunView(run_path, tolerant=True).duration_ns <= whole_ns


def test_a_wide_hole_in_the_raw_bytes_is_named_and_what_lies_behind_is_read(writer, run_path):
    count, first, last = 50_000, 5_000, 45_000
    writer.write(WriteBatch(chunks=[Chunk("probes", n, "data", b"1\r\n") for n in range(count)]))
    change(run_path, f"DELETE FROM chunk WHERE n BETWEEN {first} AND {last}")
    view = RunView(run_path, tolerant=True)
    assert [chunk.t_ns for chunk in view.chunks()] == [*range(first), *range(last + 1, count)]
    with pytest.raises(DamagedError):
        list(RunView(run_path).chunks())

"""A run file from its making to its end."""

from pathlib import Path

import apsw
import numpy as np
import pytest

from logger.model.errors import BusyError, StoreError
from logger.model.event import Event
from logger.model.finding import Finding, Results
from logger.model.reading import Flag
from logger.store.run.format import APPLICATION_ID
from logger.store.run.runfile import (
    Anchor,
    Chunk,
    NewerFileError,
    RunView,
    RunWriter,
    StoredReading,
    WriteBatch,
)
from logger.store.run.schema import CHANGES

S = 1_000_000_000


def ramp(channel: str, start: int, count: int, every_ns: int = S // 10) -> list[StoredReading]:
    """Return readings that rise by 0.01 each."""
    return [
        StoredReading(channel, n * every_ns, (2000 + n) / 100, int(Flag.STABLE))
        for n in range(start, start + count)
    ]


def test_what_was_written_is_read_back_at_once(writer, run_path):
    seqs = writer.write(
        WriteBatch(
            chunks=[Chunk("probes", 5, "open"), Chunk("probes", 1_234_567, "data", b"21.50\r\n")],
            readings=[
                StoredReading("fat", 1_234_567, 21.5, int(Flag.STABLE)),
                StoredReading("bath", 1_234_999, 812.25, 0, 23.75),
                StoredReading("fat", 2_000_000, None, int(Flag.OPEN)),
            ],
            events=[Event(t_ns=7, kind="note", source="operator", text="=fat looks clear")],
            anchors=[Anchor("b00t", 10, 20, 30, "Europe/Berlin", 0)],
            counters={"probes": {"lines": 1, "bad": 0}},
        )
    )
    view = RunView.open(run_path)
    assert seqs == [1]
    fat = view.readings("fat")
    assert fat.t_ns.tolist() == [1_234_000, 2_000_000]
    assert fat.value[0] == 21.5
    assert np.isnan(fat.value[1])
    assert fat.flags.tolist() == [int(Flag.STABLE), int(Flag.OPEN)]
    assert fat.cold_junction is None
    bath = view.readings("bath")
    assert bath.cold_junction is not None
    assert bath.cold_junction.tolist() == [23.75]
    assert [(c.kind, c.t_ns, c.data) for c in view.chunks()] == [
        ("open", 5, b""),
        ("data", 1_234_567, b"21.50\r\n"),
    ]
    assert view.events() == [
        Event(t_ns=7, kind="note", source="operator", text="=fat looks clear", seq=1)
    ]
    assert view.anchors() == [Anchor("b00t", 10, 20, 30, "Europe/Berlin", 0)]
    assert view.counters() == {"probes": {"lines": 1, "bad": 0}}
    assert view.status == "recording"
    assert view.sheet().sheet.revision == 4
    assert view.bench().channel[0].correction is not None


@pytest.mark.parametrize("force", [False, True])
def test_compaction_changes_no_reading(writer, run_path, force):
    for start in range(0, 10_000, 500):
        writer.write(
            WriteBatch(
                readings=ramp("fat", start, 500),
                chunks=[Chunk("probes", start * S, "data", bytes([start % 251]) * 700)],
            )
        )
    before, chunks = RunView.open(run_path).readings("fat"), list(RunView.open(run_path).chunks())
    writer.compact(force=force)
    view = RunView.open(run_path)
    after = view.readings("fat")
    assert len(after) == 10_000
    for name in ("t_ns", "value", "flags"):
        assert (getattr(before, name) == getattr(after, name)).all()
    assert list(view.chunks()) == chunks
    assert view.check() == "ok"


def test_a_finished_run_is_one_file_and_reads_the_same(writer, run_path):
    for start in range(0, 3_000, 100):
        writer.write(WriteBatch(readings=ramp("fat", start, 100) + ramp("bath_scale", start, 100)))
        writer.compact(force=start % 500 == 0)
    results = Results(
        findings=[
            Finding(
                key="heat.fat_c",
                check="fat temperature",
                stage="warm",
                verdict="met",
                value=46.1,
            )
        ],
        values={"mixing_temp_c": 45.2},
    )
    before = RunView.open(run_path).readings("bath_scale")
    writer.finish(results, 1_795_600_000_000_000_000)
    assert [p.name for p in run_path.parent.iterdir()] == [run_path.name]
    view = RunView.open(run_path)
    after = view.readings("bath_scale")
    assert (before.value == after.value).all()
    assert (before.t_ns == after.t_ns).all()
    assert view.results() == results
    assert view.status == "ended"
    assert view.ended_utc_ns == 1_795_600_000_000_000_000
    assert view.duration_ns == 2_999 * S // 10
    assert view.check() == "ok"
    with apsw.Connection(str(run_path), flags=apsw.SQLITE_OPEN_READONLY) as db:
        assert db.execute("SELECT count FROM block ORDER BY channel").fetchall() == [
            (3000,),
            (3000,),
        ]
        assert db.execute("SELECT count(*) FROM tail").get == 0


def test_an_outcome_and_a_note_can_be_added_after_the_end(writer, run_path):
    writer.write(WriteBatch(readings=ramp("fat", 0, 10)))
    writer.finish(None, 1)
    with RunWriter.reopen(run_path) as again:
        again.set_outcome("rejected", ["greasy"], "skin held")
        again.add_note("tasted cold")
        with pytest.raises(StoreError, match="ended"):
            again.write(WriteBatch(readings=ramp("fat", 10, 1)))
    assert [p.name for p in run_path.parent.iterdir()] == [run_path.name]
    view = RunView.open(run_path)
    assert view.outcome().outcome == "rejected"
    assert view.outcome().defects == ("greasy",)
    assert view.outcome().note == "skin held"
    assert [e.kind for e in view.events()] == ["outcome", "note"]
    assert view.events()[0].t_ns == 9 * S // 10
    assert view.status == "ended"


def test_a_run_that_was_cut_off_goes_on_where_it_stood(writer, run_path):
    writer.write(WriteBatch(readings=ramp("fat", 0, 5000), chunks=[Chunk("probes", 1, "open")]))
    writer.compact()
    writer.close()
    assert RunView.open(run_path).status == "interrupted"
    with RunWriter.reopen(run_path) as again:
        assert RunView.open(run_path).status == "recording"
        again.write(WriteBatch(readings=ramp("fat", 5000, 5000), chunks=[Chunk("new", 2, "open")]))
        again.compact(force=True)
    view = RunView.open(run_path)
    assert view.readings("fat").value.tolist() == [(2000 + n) / 100 for n in range(10_000)]
    assert [c.instrument for c in view.chunks()] == ["probes", "new"]
    assert view.check() == "ok"


def test_a_run_closed_after_a_reboot_stays_marked_interrupted(writer, run_path):
    writer.finish(None, 5, interrupted=True)
    assert RunView.open(run_path).status == "interrupted"


def test_a_second_writer_is_refused_by_the_name_of_the_first(writer, run_path):
    with pytest.raises(BusyError, match=r"process \d+ on .* since \d{4}-"):
        RunWriter.reopen(run_path)


def test_a_run_is_never_written_over(writer, run_path, run_header):
    writer.close()
    with pytest.raises(StoreError, match="already exists"):
        RunWriter.create(run_path, run_header())
    assert RunView.open(run_path).header == run_header()


def test_a_batch_with_an_unknown_channel_saves_nothing(writer, run_path):
    good, bad = ramp("fat", 0, 3), ramp("nut", 0, 1)
    with pytest.raises(StoreError, match="no channel 'nut'; there is fat, bath"):
        writer.write(WriteBatch(readings=good + bad, chunks=[Chunk("x", 1, "open")]))
    assert writer.write(WriteBatch(readings=good)) == []
    assert len(RunView.open(run_path).readings("fat")) == 3
    assert RunView.open(run_path).check() == "ok"


def test_a_value_that_is_not_finite_is_stored_as_a_fault(writer, run_path):
    writer.write(
        WriteBatch(
            readings=[
                StoredReading("fat", 0, float("inf")),
                StoredReading("fat", 1000, float("nan"), int(Flag.STABLE)),
                StoredReading("fat", 2000, -0.0, 0, float("nan")),
            ]
        )
    )
    fat = RunView.open(run_path).readings("fat")
    assert np.isnan(fat.value[:2]).all()
    assert fat.flags.tolist() == [int(Flag.FAULT), int(Flag.FAULT | Flag.STABLE), 0]
    assert not np.signbit(fat.value[2])


def test_readings_of_a_window_are_those_within_its_bounds(writer, run_path):
    writer.write(WriteBatch(readings=ramp("fat", 0, 9000)))
    writer.compact()
    view = RunView.open(run_path)
    part = view.readings("fat", 100 * S, 850 * S)
    assert part.t_ns[0] == 100 * S
    assert part.t_ns[-1] == 850 * S
    assert len(part) == 7501
    assert len(view.readings("fat", 901 * S)) == 0


def test_late_readings_are_given_in_time_order(writer, run_path):
    stamps = [3, 1, 2, 2, 0]
    rows = [StoredReading("fat", t * 1000, float(n)) for n, t in enumerate(stamps)]
    writer.write(WriteBatch(readings=rows))
    writer.compact(force=True)
    fat = RunView.open(run_path).readings("fat")
    assert fat.t_ns.tolist() == [0, 1000, 2000, 2000, 3000]
    assert fat.value.tolist() == [4.0, 1.0, 2.0, 3.0, 0.0]


def test_a_file_of_a_later_version_is_refused_in_words(writer, run_path):
    writer.finish(None, 1)
    with apsw.Connection(str(run_path)) as db:
        db.pragma("user_version", len(CHANGES) + 1)
    for door in (RunView.open, RunWriter.reopen):
        with pytest.raises(NewerFileError, match="newer version"):
            door(run_path)


def test_the_file_says_what_it_is(writer, run_path):
    writer.finish(None, 1)
    head = run_path.read_bytes()[:100]
    assert int.from_bytes(head[68:72], "big") == APPLICATION_ID
    assert int.from_bytes(head[60:64], "big") == len(CHANGES)


@pytest.mark.parametrize("content", [b"", b"not a database at all" * 100])
def test_another_file_is_refused(tmp_path: Path, content: bytes):
    path = tmp_path / "x.run"
    path.write_bytes(content)
    for door in (RunView.open, RunWriter.reopen):
        with pytest.raises(StoreError):
            door(path)


def test_a_missing_file_is_said_to_be_missing(tmp_path: Path):
    with pytest.raises(StoreError, match="no such run file"):
        RunView.open(tmp_path / "x.run")
    assert list(tmp_path.iterdir()) == []


def test_a_closed_writer_refuses(writer):
    writer.close()
    writer.close()
    with pytest.raises(StoreError, match="closed"):
        writer.write(WriteBatch())

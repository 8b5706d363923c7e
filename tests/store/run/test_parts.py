"""A batch that a run file refuses whole: what is sound in it is saved, the rest is named."""

import pytest

from logger.model.event import Event
from logger.store.run.errors import DiskFullError
from logger.store.run.parts import write_in_parts
from logger.store.run.records import ChannelRecord, Chunk, RunHeader, StoredReading, WriteBatch
from logger.store.run.runfile import RunView, RunWriter


@pytest.fixture
def file(tmp_path):
    header = RunHeader(
        run_id="20261125-0913-a3f2", sheet_json="{}", sheet_text="", bench_json="{}", bench_text="",
        started_utc_ns=1_795_600_000_000_000_000,
        channels=(ChannelRecord("m", "s", "mass", "bath_scale", "g"),),
    )  # fmt: skip
    with RunWriter.create(tmp_path / "20261125-0913-a3f2.run", header) as made:
        yield made


def batch_of(first=0, **extra):
    made = WriteBatch(
        chunks=[Chunk("s", n * 1_000_000, "data", b"x") for n in range(first, first + 8)],
        readings=[StoredReading("m", n * 1_000_000, float(n)) for n in range(first, first + 8)],
        events=[Event(t_ns=n, kind="note", source="operator", text=str(n)) for n in range(4)],
        counters={"s": {"lines": first + 8}},
    )
    for name, value in extra.items():
        getattr(made, name).append(value)
    return made


def saved_by(file, batch):
    with pytest.raises(Exception) as cause:  # noqa: PT011 - whatever the store raises
        file.write(batch)
    return write_in_parts(file.write, batch, cause.value)


NO_JSON = Event(t_ns=9, kind="outcome", source="operator", data={"defects": {1, 2}})
HALF = Event(t_ns=9, kind="note", source="operator", text="\ud800")
LIST = Event(t_ns=9, kind="outcome", source="operator", data={"outcome": ["x"]})
HUGE = Event(t_ns=2**70, kind="note", source="operator")


@pytest.mark.parametrize("event", [NO_JSON, HALF, LIST, HUGE], ids=["set", "half", "list", "huge"])
def test_an_event_that_cannot_be_stored_takes_nothing_with_it(file, event):
    file.write(batch_of())
    bad = batch_of(8, events=event)
    parts = saved_by(file, bad)
    assert [p for p, _ in parts.refused] == [event]
    assert not parts.left
    assert [e for e, _ in parts.numbers] == bad.events[:-1]
    file.write(batch_of(16))
    with RunView.open(file.path) as view:
        assert view.readings("m").value.tolist() == [float(n) for n in range(24)]
        assert len(list(view.chunks())) == 24
        kinds = [e.kind for e in view.events()]
        assert kinds.count("note") == 12
        named = [e.text for e in view.events() if e.kind == "not_saved"]
        assert len(named) == 1
        assert repr(event.kind) in named[0]
        assert view.check() == "ok"


def test_a_reading_that_cannot_be_stored_is_named_and_all_others_are_kept(file):
    parts = saved_by(file, batch_of(readings=StoredReading("ghost", 5, 1.0)))
    assert len(parts.refused) == 1
    assert not parts.left
    with RunView.open(file.path) as view:
        assert view.readings("m").value.tolist() == [float(n) for n in range(8)]
        assert len([e for e in view.events() if e.kind == "note"]) == 4
        assert "a reading of ghost" in next(e.text for e in view.events() if e.kind == "not_saved")


@pytest.mark.parametrize("cause", [RuntimeError("a bug"), DiskFullError("x")])
def test_of_a_store_that_takes_nothing_all_is_left(cause):
    def never(batch):
        raise cause

    batch = batch_of()
    parts = write_in_parts(never, batch, cause)
    assert parts.refused == parts.numbers == []
    assert (parts.left.chunks, parts.left.readings) == (batch.chunks, batch.readings)
    assert parts.left.events == batch.events


def test_a_store_that_comes_back_half_way_saves_each_part_once(file):
    tries = []

    def sometimes(batch):
        tries.append(batch)
        if len(tries) < 12:
            raise RuntimeError("a bug")
        return file.write(batch)

    batch = batch_of()
    parts = write_in_parts(sometimes, batch, RuntimeError("a bug"))
    assert not parts.refused
    assert not parts.left
    with RunView.open(file.path) as view:
        assert sorted(view.readings("m").value.tolist()) == [float(n) for n in range(8)]
        assert len([e for e in view.events() if e.kind == "note"]) == 4


def test_a_writer_that_cannot_begin_stands_where_it_stood(file, monkeypatch):
    """A transaction that fails to begin must not undo the count of the one before."""
    file.write(batch_of())
    file._saver.forget()
    file.write(batch_of(8))
    with RunView.open(file.path) as view:
        assert view.readings("m").value.tolist() == [float(n) for n in range(16)]

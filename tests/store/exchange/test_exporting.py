"""An export that is restored gives the same run, whatever it holds."""

import csv
import json
import math
from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from logger.model.errors import InputError
from logger.model.event import Event
from logger.model.finding import Finding, Results
from logger.store.exchange.bundle import bundle_of, keep
from logger.store.exchange.cells import guarded, time_ns, time_text, unguarded
from logger.store.exchange.exporting import export
from logger.store.exchange.importing import read_csv
from logger.store.exchange.restoring import export_at, read_export, restore
from logger.store.folder.datafolder import DataFolder
from logger.store.run.records import Anchor, Chunk, RunHeader, StoredReading, WriteBatch
from logger.store.run.runfile import RunView, RunWriter

KINDS = ("csv", "parquet", "json")
S = 1_000_000_000

text = st.text(max_size=30) | st.sampled_from(
    ["=1+1", "+cmd", "-2", "@x", "'tis", "''", "\tx", "\r\n", "a\rb", '"', "a,b", "＝1", "''=x", ""]
)
flags = st.integers(0, 1023)
times = st.integers(-(10**6), 10**13)
values = (
    st.none()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.decimals(-1000, 1000, places=2).map(float)
)
readings = st.lists(
    st.builds(
        StoredReading,
        st.sampled_from(["fat", "bath", "bath_scale"]),
        times,
        values,
        flags,
        st.none() | st.floats(-50, 100),
    ),
    max_size=40,
)
json_values = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53), 2**53) | text,
    lambda v: st.lists(v, max_size=3),
)
events = st.lists(
    st.builds(
        Event,
        t_ns=times,
        kind=st.sampled_from(["note", "mark", "stage", "gap", "=odd"]),
        source=st.sampled_from(["bench", "operator", "recorder", "engine"]),
        channel=st.none() | text,
        port=st.none() | text,
        stage=st.none() | text,
        text=text,
        data=st.dictionaries(text, json_values, max_size=3),
    ),
    max_size=6,
)
chunks = st.lists(
    st.builds(
        Chunk,
        st.sampled_from(["probes", "scale", "=odd"]),
        times,
        st.sampled_from(["open", "data", "close"]),
        st.binary(max_size=30),
    ),
    max_size=10,
)
batches = st.lists(
    st.builds(WriteBatch, readings=readings, events=events, chunks=chunks), min_size=1, max_size=3
)


def same(one, other) -> None:
    """Hold two bundles equal in everything but the run id."""
    assert one.events == other.events
    assert one.chunks == other.chunks
    assert one.anchors == other.anchors
    assert one.counters == other.counters
    assert one.results == other.results
    assert one.outcome == other.outcome
    assert one.ended_utc_ns == other.ended_utc_ns
    assert one.interrupted == other.interrupted
    for name in (f.name for f in fields(RunHeader) if f.name != "run_id"):
        assert getattr(one.header, name) == getattr(other.header, name)
    assert one.readings.keys() == other.readings.keys()
    for channel, a in one.readings.items():
        b = other.readings[channel]
        assert a.t_ns.tolist() == b.t_ns.tolist()
        assert a.value.tobytes() == b.value.tobytes()
        assert a.flags.tolist() == b.flags.tolist()
        assert (a.cold_junction is None) == (b.cold_junction is None)
        if a.cold_junction is not None and b.cold_junction is not None:
            assert a.cold_junction.tobytes() == b.cold_junction.tobytes()


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(written=batches, ended=st.booleans(), outcome=st.none() | text, shapes=text)
def test_a_round_trip_loses_nothing(tmp_path_factory, run_header, written, ended, outcome, shapes):
    place = tmp_path_factory.mktemp("trip")
    folder = DataFolder(place / "data")
    path = folder.run_path("20261125-0913-a3f2")
    with RunWriter.create(path, run_header(shapes_text=shapes)) as file:
        for batch in written:
            file.write(batch)
            file.compact(force=len(batch.readings) % 2 == 0)
        file.write(
            WriteBatch(
                anchors=[Anchor("b", 1, 2, 3, "Europe/Berlin", 4), Anchor("b", 5, 6, 7, "=z")],
                counters={"probes": {"lines": 3}},
            )
        )
        if outcome is not None:
            file.set_outcome("rejected", ["greasy", outcome], outcome)
        if ended:
            finding = Finding(
                key="heat.fat_c", check="c", stage="warm", verdict="met", value=1.5, evidence="=x"
            )
            file.finish(Results(findings=[finding], values={"mixing_temp_c": 45.2}), 99)
    view = RunView.open(path)
    before = bundle_of(view)
    for kind in KINDS:
        out = export(view, kind, place / f"out-{kind}")
        if kind == "json":
            out = out.rename(out.with_suffix(".json"))
        same(before, read_export(out))
        run_id = restore(folder, out).run_id
        assert run_id != "20261125-0913-a3f2"
        same(before, bundle_of(RunView.open(folder.run_path(run_id))))


def full_run(folder: DataFolder, header) -> RunView:
    path = folder.run_path(header.run_id)
    with RunWriter.create(path, header) as file:
        rows = [StoredReading("fat", n * S // 10, (5000 - n) / 100, 1) for n in range(5000)]
        rows += [StoredReading("bath", n * S, 800 + n / 8, 0, 23.5) for n in range(500)]
        said = Event(t_ns=S, kind="note", source="operator", text="=HYPERLINK(1)")
        file.write(WriteBatch(readings=rows, events=[said]))
        file.finish(Results(values={"x_c": math.nan}), 99)
    return RunView.open(path)


@pytest.fixture
def folder(tmp_path) -> DataFolder:
    return DataFolder(tmp_path / "data")


def test_no_text_cell_of_an_export_runs_in_a_spreadsheet(folder, run_header, tmp_path):
    out = export(full_run(folder, run_header()), "csv", tmp_path / "out")
    for name in ("readings.csv", "events.csv", "raw.csv"):
        with (out / name).open(newline="", encoding="utf-8") as file:
            for row in csv.reader(file):
                for cell in row:
                    number = cell.replace(".", "").replace("-", "").isdigit()
                    assert number or not cell.startswith(("=", "+", "-", "@", "\t", "\r"))


@given(text)
def test_a_guarded_cell_gives_its_text_back(given_text):
    assert unguarded(guarded(given_text)) == given_text
    assert not guarded(given_text).startswith(("=", "+", "-", "@", "\t", "\r", "\n"))


@given(st.integers(-(10**18), 10**18))
def test_a_time_cell_gives_its_nanoseconds_back(t_ns):
    assert time_ns(time_text(t_ns, 9)) == t_ns


def test_an_export_is_imported_like_any_csv_file(folder, run_header, tmp_path):
    view = full_run(folder, run_header())
    out = export(view, "csv", tmp_path / "out")
    for path in (out, out / "readings.csv", str(out)):
        found = read_csv(path)
        assert found.units == {"fat": "degC", "bath": "uV", "bath_scale": "g"}
        assert len(found.readings) == 5500
    alone = tmp_path / "mine.csv"
    alone.write_bytes((out / "readings.csv").read_bytes())
    found = read_csv(alone)
    fat = [r for r in found.readings if r.channel == "fat"]
    assert [r.value for r in fat] == view.readings("fat").value.tolist()
    assert found.readings[1].cold_junction_c == 23.5


@pytest.mark.parametrize("kind", KINDS)
def test_corrected_values_stand_beside_the_stored_and_are_not_read_back(
    folder, run_header, tmp_path, kind
):
    view = full_run(folder, run_header())

    def corrected(channel, series):
        unit = "degC" if channel == "fat" else "g"
        return series.value - 0.25, np.float64(0.5), series.value + 1.0, unit

    out = export(view, kind, tmp_path / f"out.{kind}", corrected)
    same(bundle_of(view), read_export(out))
    if kind == "csv":
        with (out / "readings.csv").open(newline="") as file:
            first = next(csv.DictReader(file))
        assert (first["value"], first["corrected"], first["u"]) == ("50.0", "49.75", "0.5")
        assert (first["without_lag"], first["corrected_unit"]) == ("51.0", "degC")
    elif kind == "json":
        columns = json.loads(out.read_text())["readings"]["fat"]
        assert (columns["corrected"][0], columns["without_lag"][0]) == (49.75, 51.0)
    else:
        import pyarrow.parquet as pq

        row = pq.read_table(out / "readings.parquet").slice(0, 1).to_pylist()[0]
        assert (row["value"], row["corrected"], row["u"]) == (50.0, 49.75, 0.5)
        assert row["without_lag"] == 51.0


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_is_written_over_and_a_failure_leaves_nothing(folder, run_header, tmp_path, kind):
    view = full_run(folder, run_header())
    out = tmp_path / "out"
    out.mkdir()
    with pytest.raises(InputError, match="already exists"):
        export(view, kind, out)

    def broken(channel, series):
        raise InputError("bench", channel, "no correction")

    with pytest.raises(InputError, match="no correction"):
        export(view, kind, tmp_path / "other", broken)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["data", "out"]


def test_an_unknown_kind_is_refused(folder, run_header, tmp_path):
    with pytest.raises(InputError, match="csv, parquet, json"):
        export(full_run(folder, run_header()), "xml", tmp_path / "x")  # type: ignore[arg-type]  # not one


def damaged(out: Path, name: str, old: str, new: str) -> None:
    path = out / name
    body = path.read_text("utf-8")
    assert old in body
    path.write_bytes(body.replace(old, new, 1).encode())


@pytest.mark.parametrize(
    ("name", "old", "new", "said"),
    [
        ("readings.csv", "50.0,degC", "fifty,degC", r"readings.csv: row 2"),
        ("readings.csv", "0.000000,fat", "0.000000,nut", r"row 2: channel 'nut'; it is not in run"),
        ("readings.csv", "time_s,", "when,", r"readings.csv: row 1"),
        ("events.csv", "{}", "{", r"events.csv: row 2"),
        ("run.json", '"version": 2', '"version": 3', r"newer version .*update bainlog"),
        (
            "run.json",
            '"version": 2',
            '"version": -1',
            r"export format -1; .*reads 1 to 2",
        ),
        ("run.json", '"format": "bainlog run"', '"format": "x"', r"not an export of a run"),
        ("run.json", '"boot_id"', '"boots"', r"not a whole export"),
        ("run.json", "{", "{{", r"can't be read"),
    ],
)
def test_a_damaged_export_is_refused_and_leaves_no_run(
    folder, run_header, tmp_path, name, old, new, said
):
    out = export(full_run(folder, run_header()), "csv", tmp_path / "out")
    damaged(out, name, old, new)
    with pytest.raises(InputError, match=rf"{name}: not as it was exported"):
        restore(folder, out)
    with pytest.raises(InputError, match=said):
        restore(folder, out, edited=True)
    assert folder.run_ids() == ["20261125-0913-a3f2"]


def test_a_run_that_cannot_be_kept_leaves_nothing(folder, run_header, tmp_path):
    """The unknown channel shows only while the file is being filled."""
    bundle = bundle_of(full_run(folder, run_header()))
    bundle.readings["nut"] = bundle.readings["fat"]
    with pytest.raises(OSError, match="no channel 'nut'"):
        keep(bundle, folder)
    assert [p.name for p in folder.runs.iterdir()] == ["20261125-0913-a3f2.run"]


def test_what_is_no_export_is_told_apart(folder, tmp_path):
    (tmp_path / "x.csv").write_text("time_s\n")
    assert export_at(tmp_path / "x.csv") is None
    assert export_at(tmp_path) is None
    with pytest.raises(InputError, match="not an export of a run"):
        read_export(tmp_path)

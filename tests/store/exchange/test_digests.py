"""An export that is not as it was written is refused by name, or taken in as what it is."""

import json
import shutil
import subprocess
import tracemalloc
import zipfile
from pathlib import Path

import pytest
from click.testing import CliRunner

from logger.cli.files import import_
from logger.model.errors import InputError
from logger.store.exchange.bundle import bundle_of
from logger.store.exchange.digests import digests_of, read_json, write_json
from logger.store.exchange.exporting import export
from logger.store.exchange.importing import read_csv
from logger.store.exchange.restoring import read_export, restore
from logger.store.folder.datafolder import DataFolder
from logger.store.run.records import StoredReading, WriteBatch
from logger.store.run.runfile import RunView, RunWriter

S = 1_000_000_000
EARLIER = Path(__file__).resolve().parents[3] / "fixtures" / "exports" / "version-1.zip"


@pytest.fixture
def folder(tmp_path):
    return DataFolder(tmp_path / "data")


@pytest.fixture
def view(folder, run_header):
    path = folder.run_path("20261125-0913-a3f2")
    with RunWriter.create(path, run_header()) as file:
        rows = [StoredReading("fat", n * S, 50.0 + n) for n in range(20)]
        file.write(WriteBatch(readings=rows))
        file.add_note("as cold as the yard")
        file.finish(None, 99 * S)
    return RunView.open(path)


def exported(view, place, kind):
    return export(view, kind, place / (f"roll.{kind}" if kind == "json" else kind))


def test_a_digest_is_what_sha256sum_says(view, tmp_path):
    out = exported(view, tmp_path, "csv")
    listed = json.loads((out / "run.json").read_text("utf-8"))["files"]
    tool = shutil.which("sha256sum")
    if tool is None:
        pytest.skip("no sha256sum here")
    for name, one in listed.items():
        said = subprocess.run([tool, out / name], capture_output=True, text=True, check=True)
        assert said.stdout.split()[0] == one["sha256"]
        assert (out / name).stat().st_size == one["bytes"]
    assert sorted(listed) == ["events.csv", "raw.csv", "readings.csv"]


@pytest.mark.parametrize(
    ("kind", "name"),
    [("csv", n) for n in ("run.json", "readings.csv", "events.csv", "raw.csv")]
    + [("parquet", n) for n in ("run.json", "readings.parquet", "events.parquet", "raw.parquet")]
    + [("json", "")],
)
def test_a_flipped_bit_is_refused_by_the_name_of_its_file(view, folder, tmp_path, kind, name):
    out = exported(view, tmp_path, kind)
    path = out / name
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)
    with pytest.raises(InputError, match="not as it was exported") as refused:
        restore(folder, out)
    assert str(refused.value).startswith(f"{path}: ")
    assert "--edited" in str(refused.value)
    assert folder.run_ids() == ["20261125-0913-a3f2"]
    with pytest.raises(InputError, match="not as it was exported"):
        read_csv(out if kind == "json" else out / f"readings.{kind}")


def test_an_export_edited_on_purpose_comes_in_with_a_note_that_says_so(view, folder, tmp_path):
    before = bundle_of(view)
    out = exported(view, tmp_path, "csv")
    path = out / "readings.csv"
    path.write_bytes(path.read_bytes().replace(b"fat,53.0", b"fat,53.5", 1))
    found = restore(folder, out, edited=True)
    again = RunView.open(folder.run_path(found.run_id))
    assert again.readings("fat").value.tolist()[3] == 53.5
    *rest, note = again.events()
    assert rest == before.events
    assert (note.kind, note.source) == ("note", "recorder")
    assert "changed after it was made: readings.csv" in note.text
    assert found.remarks == (note.text,)
    once_more = exported(again, tmp_path / "second", "json")
    assert read_export(once_more).events[-1].text == note.text


def test_an_export_nobody_changed_needs_no_note_even_when_edits_are_allowed(view, folder, tmp_path):
    out = exported(view, tmp_path, "json")
    found = restore(folder, out, edited=True)
    assert found.remarks == ()
    assert RunView.open(folder.run_path(found.run_id)).events() == bundle_of(view).events


def test_a_json_written_anew_by_another_program_counts_as_edited(view, folder, tmp_path):
    out = exported(view, tmp_path, "json")
    out.write_text(json.dumps(json.loads(out.read_text("utf-8")), indent=2), "utf-8")
    with pytest.raises(InputError, match="--edited"):
        restore(folder, out)
    assert restore(folder, out, edited=True).remarks[0].endswith("roll.json")


@pytest.mark.parametrize("name", ["readings.csv", "events.csv", "raw.csv"])
def test_a_file_that_is_missing_is_named(view, folder, tmp_path, name):
    out = exported(view, tmp_path, "csv")
    (out / name).unlink()
    for edited in (False, True):
        with pytest.raises(InputError, match=rf"{name}: no such file"):
            restore(folder, out, edited=edited)


@pytest.mark.parametrize("kind", ["csv", "parquet", "json"])
def test_an_export_of_the_earlier_version_comes_in_and_says_it_cannot_be_checked(
    folder, tmp_path, kind
):
    with zipfile.ZipFile(EARLIER) as packed:
        packed.extractall(tmp_path)
    place = tmp_path / ("roll-json.json" if kind == "json" else f"roll-{kind}")
    found = restore(folder, place)
    assert len(found.remarks) == 1
    assert "earlier version" in found.remarks[0]
    assert "can't be checked" in found.remarks[0]
    said = RunView.open(folder.run_path(found.run_id))
    assert len(said.readings(said.channels()[0].id)) > 50
    assert not [e for e in said.events() if "changed" in e.text]


def test_the_command_says_what_it_took_in(view, tmp_path):
    out = exported(view, tmp_path, "csv")
    raw = out / "raw.csv"
    raw.write_bytes(raw.read_bytes() + b"0.000000000,probes,data,0x31\r\n")
    asked = [str(out), "--data", str(tmp_path / "other"), "--json"]
    refused = CliRunner().invoke(import_, asked)
    assert isinstance(refused.exception, InputError)
    taken = json.loads(CliRunner().invoke(import_, [*asked, "--edited"]).stdout)
    assert "raw.csv" in taken["report"][0]
    plain = tmp_path / "plain.csv"
    plain.write_text("time_s,fat [degC]\n0,50\n")
    foreign = CliRunner().invoke(import_, [str(plain), "--edited", "--data", str(tmp_path / "o")])
    assert "not an export" in str(foreign.exception)


def test_a_digest_of_a_large_file_is_taken_in_pieces(tmp_path):
    with (tmp_path / "readings.csv").open("wb") as file:
        file.truncate(200_000_000)
    tracemalloc.start()
    try:
        found = digests_of(tmp_path, ["readings.csv"])
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert found["readings.csv"]["bytes"] == 200_000_000
    assert peak < 2_000_000


@pytest.mark.parametrize("indent", [None, 1])
def test_every_bit_of_a_json_text_is_covered(tmp_path, indent):
    path = tmp_path / "x.json"
    write_json(path, {"format": "bainlog run", "version": 2, "note": "Käse, 1 €"}, indent)
    whole = path.read_bytes()
    assert read_json(path, edited=False)[1] is False
    for at in range(len(whole)):
        for bit in range(8):
            data = bytearray(whole)
            data[at] ^= 1 << bit
            path.write_bytes(data)
            with pytest.raises(InputError):
                read_json(path, edited=False)

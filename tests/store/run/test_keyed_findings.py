"""A run of version 1 is read with keys of its findings, and brought up when it is written."""

import gzip
import json
from pathlib import Path

import apsw
import pytest

from logger.model.checks import check_of
from logger.model.finding import Finding, Results
from logger.store.run.changes.keyed_findings import (
    _PATTERNS,
    _PLAIN,
    UNNAMED,
    key_of,
    keyed_findings,
)
from logger.store.run.runfile import RunView, RunWriter
from logger.store.run.schema import CHANGES
from logger.words.labels import check_label

KEPT = Path(__file__).resolve().parents[3] / "fixtures" / "runs" / "format-1.run.gz"
LABELS = {
    "mass of oat fibre": ("weigh.mass_g", "oat fibre"),
    "mass of mass of time": ("weigh.mass_g", "mass of time"),
    "time for alginate": ("hydrate.time_s", "alginate"),
    "time for the mix": ("hydrate.time_s", ""),
    "cooling to 54.4 °C": ("chill.cooling_s", "54.4"),
    "time at 72 °C or more": ("cook.at_core_s", "72"),
    "time between 5 and 57.2 °C": ("run.danger_zone_s", "5..57.2"),
    "plateau": ("fat_curve.plateau_c", ""),
    "plateau (maximum)": ("fat_curve.plateau_c", "maximum"),
    "dwell": ("set.dwell_s", ""),
    "dwell of pieces not seen": ("set.unseen_dwell_s", ""),
}


@pytest.fixture
def first_version(tmp_path):
    """A run file of version 1, as it was written then."""
    path = tmp_path / "20261125-1109-2bb4.run"
    path.write_bytes(gzip.decompress(KEPT.read_bytes()))
    return path


def with_labels(path, labels):
    """Put findings of version 1 with these labels into a file."""
    with apsw.Connection(str(path)) as db:
        results = json.loads(db.execute("SELECT results FROM run").get)
        first = results["findings"][0]
        results["findings"] = [first | {"check": label} for label in labels]
        db.execute("UPDATE run SET results = ?", (json.dumps(results),))
    db.close()


def version_of(path):
    with apsw.Connection(str(path), flags=apsw.SQLITE_OPEN_READONLY) as db:
        version = db.pragma("user_version")
    db.close()
    return version


@pytest.mark.parametrize(("label", "known"), LABELS.items())
def test_a_label_of_version_1_gives_key_and_subject(label, known):
    assert key_of(label) == known


@pytest.mark.parametrize("key", [*_PLAIN.values(), *(key for _, key in _PATTERNS), UNNAMED])
def test_every_key_of_the_table_is_one_of_today(key):
    assert check_of(key).key == key


def test_a_label_that_nobody_knows_is_kept_as_the_subject():
    assert key_of("smell") == (UNNAMED, "smell")
    assert check_label(*key_of("smell")) == "smell"


def test_what_has_keys_and_what_is_no_result_is_left_alone():
    keyed = {"findings": [{"key": "set.dwell_s", "subject": "", "check": "renamed"}]}
    assert keyed_findings(keyed) == keyed
    for wrong in (None, [], "x", {"findings": 3}, {"findings": [7, {"check": 4}]}):
        assert keyed_findings(wrong) == wrong


def test_a_file_of_version_1_is_read_with_keys_and_not_written(first_version):
    with_labels(first_version, LABELS)
    before = first_version.read_bytes()
    found = RunView.open(first_version).results().findings
    assert [(f.key, f.subject) for f in found] == list(LABELS.values())
    assert [f.check for f in found] == list(LABELS)
    assert first_version.read_bytes() == before
    assert version_of(first_version) == 1


def test_a_file_of_version_1_that_is_written_says_the_same_with_keys(first_version):
    with_labels(first_version, LABELS)
    before = RunView.open(first_version).results()
    RunWriter.reopen(first_version).close()
    assert version_of(first_version) == len(CHANGES)
    assert RunView.open(first_version).results() == before
    with apsw.Connection(str(first_version), flags=apsw.SQLITE_OPEN_READONLY) as db:
        stored = json.loads(db.execute("SELECT results FROM run").get)["findings"]
    db.close()
    assert [(f["key"], f["subject"]) for f in stored] == list(LABELS.values())


def test_damaged_results_stop_nobody_from_writing_a_note(first_version):
    with apsw.Connection(str(first_version)) as db:
        db.execute("UPDATE run SET results = '{\"findings\": '")
    db.close()
    with RunWriter.reopen(first_version) as file:
        file.add_note("tasted again")
    assert [e.text for e in RunView.open(first_version).events()][-1] == "tasted again"


def test_findings_are_one_by_key_subject_stage_and_piece():
    one = Finding(key="weigh.mass_g", subject="fat", check="a", stage="weigh", verdict="met")
    other = Finding(key="weigh.mass_g", subject="salt", check="a", stage="weigh", verdict="met")
    assert one.identity != other.identity
    assert Results(findings=[one]).findings[0].identity == one.identity

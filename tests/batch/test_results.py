"""Results that a sheet declares are typed with a unit, and only what can be is kept."""

import csv
import json

import pytest
from click.testing import CliRunner

from logger.batch.results import result_text, typed_results
from logger.cli.main import group
from logger.control.acts import require_result
from logger.model.errors import InputError
from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.model.history import said_results
from logger.model.recipe.checked import sheet_wrongs
from logger.model.rows import ResultRow
from logger.recorder.replay.intake import take_in
from logger.review.learn.sheet_text import sheet_as_toml
from logger.science.fats.fatfile import builtin_fats
from logger.store.exchange.importing import read_csv
from logger.store.folder.datafolder import DataFolder

TEXT = """
[sheet]
name = "Smoked beet and barley roll"

[[result]]
name = "cook loss"
unit = "%"
low = 0
high = 100

[[result]]
name = "bite force"
unit = "N"

[[result]]
name = "juiciness"
low = 1
high = 9
by_taster = true

[[result]]
name = "pH"
low = 0
high = 14

[[result]]
name = "viscosity"
unit = "mPa s"
"""
DECLARED = sheet_from_text(TEXT, "x.sheet.toml").result


@pytest.mark.parametrize(
    ("typed", "row"),
    [
        ("cook loss=12.4 %", ResultRow(name="cook loss", value=12.4, unit="%")),
        ("cook loss = 12", ResultRow(name="cook loss", value=12.0, unit="%")),
        ("bite force=1.2 kN", ResultRow(name="bite force", value=1200.0, unit="N")),
        ("juiciness=7 by Ada", ResultRow(name="juiciness", value=7.0, by="Ada")),
        ("pH=5.62", ResultRow(name="pH", value=5.62)),
        ("viscosity=1.5 Pa s", ResultRow(name="viscosity", value=1500.0, unit="mPa s")),
    ],
)
def test_a_result_is_kept_in_the_unit_of_the_sheet(typed, row):
    (found,) = typed_results([typed], DECLARED)
    assert (found.name, found.unit, found.by) == (row.name, row.unit, row.by)
    assert found.value == pytest.approx(row.value, rel=1e-12)
    require_result("x", found, DECLARED)


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("cook loss", "write 'cook loss=12.4 %'"),
        ("colour=3", "write one of cook loss, bite force"),
        ("cook loss=12 g", "12 g"),
        ("bite force=12", "has no unit"),
        ("cook loss=130 %", "0 to 100 %"),
        ("juiciness=7", "say who tasted"),
        ("juiciness=10 by Ada", "1 to 9"),
        ("pH=acid", "not a number"),
    ],
)
def test_what_cannot_be_is_refused_with_what_to_write(typed, says):
    def typed_and_checked():
        (row,) = typed_results([typed], DECLARED)
        require_result("x", row, DECLARED)

    with pytest.raises(InputError) as refused:
        typed_and_checked()
    assert says in str(refused.value)


def test_a_value_in_another_unit_is_refused_at_every_door():
    with pytest.raises(InputError, match="in %"):
        require_result("x", ResultRow(name="cook loss", value=0.12, unit="g"), DECLARED)
    with pytest.raises(InputError, match="no taster"):
        require_result("x", ResultRow(name="pH", value=5.0, by="Ada"), DECLARED)


def test_a_later_value_replaces_that_of_the_same_name_and_taster():
    def said(*rows):
        data = {"outcome": "accepted", "results": list(rows)}
        return Event(t_ns=0, kind="outcome", source="operator", data=data)

    found = said_results(
        [
            said({"name": "juiciness", "value": 7.0, "by": "Ada"}),
            said({"name": "juiciness", "value": 5, "by": "Bo"}, {"name": "pH", "value": 5.6}),
            said({"name": "juiciness", "value": 8.0, "by": "Ada"}),
            Event(t_ns=0, kind="outcome", source="operator", data={"outcome": "accepted"}),
        ]
    )
    assert [result_text(row) for row in found] == [
        "juiciness 8 by Ada",
        "juiciness 5 by Bo",
        "pH 5.6",
    ]


def test_a_sheet_with_results_is_written_and_read_back_the_same():
    sheet = sheet_from_text(TEXT, "x.sheet.toml")
    assert sheet_from_text(sheet_as_toml(sheet), "again") == sheet


@pytest.mark.parametrize(
    ("was", "now"),
    [('unit = "N"', 'unit = "splash"'), ("low = 1\nhigh = 9", "low = 9\nhigh = 1"),
     ('name = "pH"', 'name = "cook loss"'), ('name = "pH"', 'name = "p=H"')],
)  # fmt: skip
def test_a_table_that_cannot_be_is_refused(was, now):
    assert sheet_wrongs(TEXT, "x.sheet.toml") == []
    assert len(sheet_wrongs(TEXT.replace(was, now), "x.sheet.toml")) == 1


SHORT = """
[sheet]
name = "Smoked beet and barley roll"

[[stage]]
id = "fridge"
kind = "chill"
core = { high = "5 degC" }

[[result]]
name = "cook loss"
unit = "%"

[[result]]
name = "juiciness"
low = 1
high = 9
by_taster = true
"""


def test_results_are_kept_with_the_outcome_and_exported(tmp_path):
    folder = DataFolder(tmp_path / "data")
    rows = "time_s,core [degC]\n" + "".join(f"{n},{40 - n}\n" for n in range(30))
    run = take_in(
        folder,
        read_csv(rows),
        sheet_text=SHORT,
        sheet_name="x",
        bench_text=None,
        fats=builtin_fats(),
    )

    def ask(*words):
        done = CliRunner().invoke(group, [*words, "--data", str(folder.path)])
        assert done.exit_code == 0, (done.output, done.exception)
        return done.output

    said = ("--result", "cook loss=12.4 %", "--result", "juiciness=7 by Ada")
    assert "accepted, cook loss 12.4 %, juiciness 7 by Ada." in ask(
        "outcome", run, "accepted", *said
    )
    kept = [
        {"name": "cook loss", "value": 12.4, "unit": "%", "by": ""},
        {"name": "juiciness", "value": 7.0, "unit": "", "by": "Ada"},
    ]
    assert json.loads(ask("show", run, "--json"))["run"]["results"] == kept
    assert "Measured: juiciness 7 by Ada" in ask("show", run)
    assert "mean of" not in ask("compare", run, run), "one taster says nothing of batches"
    ask("export", run, "--to", "csv", "-o", str(tmp_path / "out"))
    with (tmp_path / "out" / "events.csv").open(encoding="utf-8", newline="") as file:
        said_rows = [row for row in csv.DictReader(file) if "cook loss" in str(row)]
    assert len(said_rows) == 1
    ask("export", run, "--to", "json", "-o", str(tmp_path / "out.json"))
    events = json.loads((tmp_path / "out.json").read_text(encoding="utf-8"))["events"]
    assert [e["data"]["results"] for e in events if e["kind"] == "outcome"] == [kept]
    ask("outcome", run, "accepted", "--result", "juiciness=5 by Bo")
    assert "Juiciness, mean of 2 tasters: 6.0, 6.0 (chance 100 %" in ask("compare", run, run)
    refused = CliRunner().invoke(
        group, ["outcome", run, "accepted", "--result", "pH=5", "--data", str(folder.path)]
    )
    assert "write one of cook loss, juiciness" in str(refused.exception)

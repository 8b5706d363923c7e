"""What makes a batch findable can be said on the command line."""

import click
import pytest
from click.testing import CliRunner

from logger.cli.options import about_options, pairs_of
from logger.cli.runs import runs
from logger.model.errors import InputError
from logger.model.rows import StartRow
from logger.store.folder.entries import RunEntry
from tests.cli.inside import ran


def test_operator_size_and_lots_come_as_one_record():
    told = []

    @click.command()
    @about_options
    def begin(about: StartRow) -> None:
        told.append(about)

    done = CliRunner().invoke(
        begin, ["--operator", "Ada", "--size", "12 pieces", "--lot", "oat fibre = OF-2",
                "--instead", "salt=sea salt"],
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    assert told == [StartRow(operator="Ada", size="12 pieces", lots={"oat fibre": "OF-2"},
                             instead={"salt": "sea salt"})]  # fmt: skip


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        (("--instead", "fat=ghee"), "give --sheet FILE as well"),
        (("--sheet", "s.toml", "--instead", "ghee"), "oat fibre=barley bran"),
        (("--sheet", "s.toml", "--instead", "butter=tallow"), "the sheet has ghee"),
    ],
)
def test_an_alternative_that_the_sheet_does_not_allow_is_refused_before_the_start(
    tmp_path, words, wanted
):
    (tmp_path / "s.toml").write_text(
        '[sheet]\nname = "s"\n[[ingredient]]\nname = "butter"\nphase = "fat"\nmass = "180 g"\n'
        'alternative = [{ name = "ghee" }]\n'
    )
    assert wanted in ran(tmp_path, "start", "--no-browser", *words, code=2).stderr
    (tmp_path / "b.toml").write_text("")
    record = ("record", "--sheet", "s.toml", "--bench", "b.toml")
    assert "add a stage first" in ran(tmp_path, *record, code=2).stderr


@pytest.mark.parametrize("text", ["OF-2", "=OF-2", ""])
def test_a_lot_without_its_ingredient_is_refused_with_the_right_form(text):
    with pytest.raises(InputError, match="oat fibre=OF-2"):
        pairs_of("--lot", [text], "oat fibre=OF-2")


def test_runs_lists_size_and_operator_where_they_were_told(monkeypatch, tmp_path):
    told = RunEntry(run_id="20261128-0913-a3f2", operator="Ada", size="12 pieces")
    untold = RunEntry(run_id="20261127-0913-a3f1")
    for entries, heads in (([told, untold], True), ([untold], False)):
        monkeypatch.setattr(
            "logger.store.folder.catalog.Catalog.runs", lambda *_, e=entries, **__: e
        )
        said = CliRunner().invoke(runs, ["--data", str(tmp_path)], env={"COLUMNS": "90"})
        assert said.exit_code == 0, said.output
        assert ("Ada" in said.output, "12 pieces" in said.output) == (heads, heads)
        assert ("operator" in said.output) == heads
        assert untold.run_id in said.output

"""What a cook types in another form is answered with the form that is read."""

import pytest
from click.testing import CliRunner

from logger.cli.main import group
from logger.model.errors import InputError
from tests.cli.test_bad_sheets import GOOD

HEAD = "time_s,fat [degC]\n"


@pytest.fixture
def ask(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "s.toml").write_text(GOOD, encoding="utf-8")

    def asked(*words):
        return CliRunner().invoke(group, [*words], env={"BAINLOG_DATA": "data"})

    return asked


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("slab|2 min=0,52 mm", "'0,52 mm' has a decimal comma; write '0.52 mm'"),
        ("slab|2:00=0.52 mm", "'2:00' has no unit; for minutes and seconds write '2 min'"),
        ("slab|2 min 0.52 mm", "a pair such as '1 min=0.9 mm'"),
        ("sheet|scale|s.toml|-o|n.toml|--to|1,2 kg", "write '1.2 kg'"),
        ("sheet|scale|s.toml|-o|n.toml|--to|1,5 l", "for water that is about '1500 g'"),
        ("sheet|scale|s.toml|-o|n.toml|--by|1,5", "'1,5' has a decimal comma; write '1.5'"),
        ("sheet|scale|s.toml|-o|n.toml|--by|half", "write for example '1.5'"),
        ("ports|--for|0:03", "'0:03' has no unit; for minutes and seconds write '3 s'"),
        ("record|--sheet|s.toml|--for|20:00", "write '20 min'"),
        ("record|--sheet|s.toml|--for|20", "'20' has no unit; write for example '20 min'"),
    ],
)
def test_an_option_in_another_form_is_answered_with_the_right_one(ask, words, says):
    done = ask(*words.split("|"))
    assert isinstance(done.exception, InputError)
    assert says in str(done.exception)


@pytest.mark.parametrize(
    ("cells", "says"),
    [
        ('0,"45,2"\n', "'45,2'; write 45.2, with a point"),
        ("0,45,2\n", "3 cells; the head has 2; write decimals with a point"),
        ("6:30,45.2\n", "'6:30'; write seconds: 390"),
        ("1:00:01,45.2\n", "'1:00:01'; write seconds: 3601"),
    ],
)
def test_a_cell_in_another_form_is_answered_with_the_right_one(ask, tmp_path, cells, says):
    (tmp_path / "r.csv").write_text(HEAD + cells, encoding="utf-8")
    done = ask("import", "r.csv", "--sheet", "s.toml")
    assert isinstance(done.exception, InputError)
    assert says in str(done.exception)


@pytest.fixture
def run(ask, tmp_path):
    """A run of two readings; its id."""
    (tmp_path / "r.csv").write_text(HEAD + "0,45.2\n1,45.3\n", encoding="utf-8")
    done = ask("import", "r.csv", "--sheet", "s.toml")
    assert done.exit_code == 0, done.exception
    return done.stdout.strip()


@pytest.mark.parametrize("ending", ["csv", "parquet"])
def test_an_export_to_a_name_with_an_ending_says_that_it_is_a_folder(ask, run, tmp_path, ending):
    done = ask("export", run, "-o", f"run.{ending}")
    assert done.exit_code == 0, done.exception
    assert done.stdout == f"run.{ending}\n"
    assert f"run.{ending} is a folder with events.{ending}, raw.{ending}" in done.stderr
    assert (tmp_path / f"run.{ending}" / f"readings.{ending}").is_file()


def test_an_export_to_a_name_that_ends_in_json_is_one_file(ask, run, tmp_path):
    done = ask("export", run, "-o", "run.json")
    assert (done.exit_code, done.stderr) == (0, "")
    assert (tmp_path / "run.json").is_file()


def test_an_export_that_nobody_can_tell_asks_what_it_is_to_be(ask, run):
    assert str(ask("export", run, "-o", "run.xlsx").exception) == (
        "--to: missing; give one of csv, parquet, json"
    )
    assert ask("export", run, "--to", "JSON").stdout == f"{run}.json\n"

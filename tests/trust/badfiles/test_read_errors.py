"""Files that fail while they are read; benches with more sensors than a file has columns."""

import json
import sys

import pytest
from click.testing import CliRunner

from logger.cli.main import group
from logger.model.errors import BainlogError, InputError
from logger.recorder.replay.intake import take_in
from logger.store.exchange.importing import read_csv
from logger.store.folder.datafolder import DataFolder
from logger.store.folder.given import opened, text_of


def ask(folder, *words):
    done = CliRunner().invoke(group, [*words, "--data", str(folder.path)])
    assert isinstance(done.exception, SystemExit | BainlogError | None)
    return done


@pytest.mark.skipif(sys.platform != "linux", reason="a file that fails when read: /proc")
@pytest.mark.parametrize("name", ["readings.csv", "run.json"])
def test_a_file_that_fails_while_it_is_read_is_named_in_one_line(tmp_path, name):
    file = tmp_path / name
    file.symlink_to("/proc/self/mem")  # its first byte is never there: EIO, as on a broken stick
    with opened(file, 1_000) as raw, pytest.raises(InputError, match="Input/output error"):
        raw.read(10)
    with opened(file, 1_000) as raw, pytest.raises(InputError, match=name):
        raw.read()
    with pytest.raises(InputError, match=name):
        text_of(file, 1_000)
    sheet = tmp_path / "a.sheet.toml"
    assert ask(DataFolder(tmp_path / "d"), "sheet", "new", str(sheet)).exit_code in (0, 2)
    done = ask(DataFolder(tmp_path / "d"), "import", str(file), "--sheet", str(sheet))
    assert isinstance(done.exception, InputError)


def test_a_bench_may_have_sensors_that_the_file_has_no_column_of(tmp_path):
    sheet = '[sheet]\nname = "Smoked beet and barley roll"\n'
    bench = '[[instrument]]\nid = "one"\nport = "none"\nshape = "comma list of probes"\n' + "".join(
        f'[[channel]]\nid = "{role}"\ninstrument = "one"\nfield = "t{n}"\nrole = "{role}"\n'
        for n, role in enumerate(("fat", "water", "bath_scale"), 1)
    )
    folder = DataFolder(tmp_path)
    run_id = take_in(
        folder,
        read_csv("time_s,fat [degC]\n0,45\n1,44\n"),
        sheet_text=sheet,
        sheet_name="x",
        bench_text=bench,
        fats={},
    )
    with folder.view(run_id) as view:
        assert view.readings("fat").value.tolist() == [45.0, 44.0]
        assert view.count("water") == view.count("bath_scale") == 0
    assert json.loads(ask(folder, "show", run_id, "--json").output)["run"]["id"] == run_id
    out = tmp_path / "out.json"
    assert ask(folder, "export", run_id, "--to", "json", "-o", str(out)).exit_code == 0
    assert ask(DataFolder(tmp_path / "other"), "import", str(out)).exit_code == 0

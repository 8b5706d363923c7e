"""The command line within the process of the tests: the same `main`, no start of a Python."""

import contextlib
import os
import sys
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

from click.testing import CliRunner

from logger.cli.main import main


@dataclass(frozen=True, slots=True)
class Ended:
    """How a command ended, and what it printed."""

    returncode: int
    stdout: str
    stderr: str


def inside(folder: Path, *words: object, **env: str) -> Ended:
    """Run ``bainlog`` with these words in a folder; environment as given beside today's."""
    argv = ["bainlog", *map(str, words)]
    runner = CliRunner()
    with (
        contextlib.chdir(folder),
        mock.patch.object(sys, "argv", argv),
        runner.isolation(env={"COLUMNS": "200", **env}) as (out, err, _),
    ):
        code: int | str | None = 0
        try:
            main()
        except SystemExit as end:
            code = end.code
        sys.stdout.flush()
        sys.stderr.flush()
        said = [stream.getvalue().decode() for stream in (out, err)]
    assert isinstance(code, int | None), code
    return Ended(code or 0, *said)


def ran(folder: Path, *words: object, code: int = 0) -> Ended:
    """Run a command on a data folder of its own in `folder`; it must end with `code`."""
    done = inside(folder, *words, BAINLOG_DATA=str(folder / "data"))
    assert done.returncode == code, done.stdout + done.stderr
    return done


def apart(folder: Path, *words: object, code: int = 0) -> Ended:
    """Do the same with a process of its own, as a person does."""
    import subprocess

    done = subprocess.run(
        [Path(sys.executable).parent / "bainlog", *map(str, words)],
        env={**os.environ, "BAINLOG_DATA": str(folder / "data"), "COLUMNS": "200"},
        cwd=folder, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == code, done.stdout + done.stderr
    return Ended(done.returncode, done.stdout, done.stderr)

"""Runs the tests that reach a change in a copy of the tree, until one of them fails.

The quickest and nearest tests come first. A child that is forked from a process that has the
libraries loaded already runs them; the product itself is imported in the child.
"""

import importlib
import os
import resource
import shutil
import sys
from pathlib import Path

import pytest

from tests.mutants.changes import ROOT, Mutant
from tests.mutants.reach import Reached

COPIED = (
    "logger", "dashboard", "tests", "fixtures", "pyproject.toml", "README.md", "DEVELOPERS.md",
    "hardware_notes.md",
)  # fmt: skip
LIBRARIES = ("numpy", "scipy.stats", "scipy.optimize", "scipy.integrate", "scipy.interpolate",
             "scipy.signal", "scipy.special", "scipy.sparse.linalg", "pydantic", "apsw",
             "pint", "hypothesis", "click")  # fmt: skip
BUDGET_S = 15.0
"""Processor time of the tests that are chosen for one change [s], as they took without it."""
FIRST = 8
"""So many tests run first: most changes need no more, and the files of the others stay unread."""
MOST_FILES = 5
BROKE = 70
"""Exit code of a child in which pytest itself raised something."""
RUNAWAY_S = 60
"""Processor time after which a child goes round for ever; that is noticed too."""
NO_SUCH_TEST = 4
"""What pytest exits with if a test that is asked for is not there, or nothing can be imported."""


def copied(place: Path) -> None:
    """Copy what the tests need."""
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, place / name, ignore=shutil.ignore_patterns("__pycache__"))
        elif source.is_file():
            shutil.copy(source, place / name)


def loaded() -> None:
    """Load the libraries once, for every child."""
    for name in LIBRARIES:
        importlib.import_module(name)


def folder_of(path: Path) -> Path:
    """Return the nearest folder of tests of a module."""
    mirror = Path("tests", *path.relative_to(ROOT / "logger").parts[:-1])
    while not any((ROOT / mirror).glob("test_*.py")) and len(mirror.parts) > 2:
        mirror = mirror.parent
    return mirror


def chosen(mutant: Mutant, reached: dict[str, Reached]) -> list[str]:
    """Return the tests for a change: those that call its function, then the rest of its folder.

    What stands outside of functions is reached by every call of a function of the module. The tests
    of its folder, and those that stand in the folders around it, follow by how long they take.
    """
    file = f"{mutant.path.relative_to(ROOT)}:"
    place = f"{file}{mutant.function}" if mutant.function else file
    folder = folder_of(mutant.path)
    near, around = f"{folder}/", {str(each) for each in folder.parents}
    found = []
    for test, one in reached.items():
        calls = any(f == place or (not mutant.function and f.startswith(place))
                    for f in one.functions)  # fmt: skip
        is_near = test.startswith(near)
        is_around = test.partition("::")[0].rpartition("/")[0] in around
        if calls or is_near or is_around:
            found.append((not calls, calls and not is_near, one.seconds, test))
    tests, spent_s = list[str](), 0.0
    for _, _, seconds, test in sorted(found):
        if spent_s + seconds <= BUDGET_S:
            tests.append(test)
            spent_s += seconds
    return tests


def noticed_by(mutant: Mutant, place: Path, tests: list[str], sound: set[str]) -> str:
    """Return the test that fails with the change in the copy of the tree, and not without.

    `sound` gathers the tests that were seen to pass without a change. Nothing is returned if no
    test fails.

    Raises
    ------
    RuntimeError
        If what fails with the change fails without it too.
    """
    if not tests:
        return ""
    target = place / mutant.path.relative_to(ROOT)
    whole, when = target.read_bytes(), target.stat()
    target.write_bytes(whole[: mutant.start] + mutant.now.encode() + whole[mutant.end :])
    try:
        code, failed = _tried(place, tests)
    finally:
        target.write_bytes(whole)
        os.utime(target, ns=(when.st_atime_ns, when.st_mtime_ns))
    if code == 0:
        return ""
    again = failed or tests[0].partition("::")[0]
    if again not in sound and _exit_code(place, [again])[0] != 0:
        raise RuntimeError(f"{again} fails without a change")
    sound.add(again)
    return again


def _tried(place: Path, tests: list[str]) -> tuple[int, str]:
    """Return how pytest exits, and the test that failed.

    Where the name of a test holds what was changed, its whole file is run.
    """
    code, failed = _exit_code(place, tests[:FIRST])
    if code == 0 and len(tests) > FIRST:
        code, failed = _exit_code(place, tests[FIRST:])
    if code == NO_SUCH_TEST:
        files = dict.fromkeys(test.partition("::")[0] for test in tests)
        code, failed = _exit_code(place, list(files)[:MOST_FILES])
    return code, failed


class _First:
    """A plug-in of pytest that writes down the first test that fails."""

    def __init__(self, file: Path) -> None:
        self._file = file

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed and not self._file.exists():
            self._file.write_text(report.nodeid, encoding="utf-8")


def _exit_code(place: Path, tests: list[str]) -> tuple[int, str]:
    """Return the exit code of pytest, and the name of the test that failed."""
    said = place / ".failed"
    said.unlink(missing_ok=True)
    child = os.fork()
    if child == 0:
        code = BROKE
        try:
            code = _run(place, tests, _First(said))
        finally:  # whatever was raised: a copy of this process must not go on as its parent does
            os._exit(code)
    _, status = os.waitpid(child, 0)
    code = os.waitstatus_to_exitcode(status)
    if code == BROKE:
        raise RuntimeError(f"pytest broke at {tests[0]}")
    return code, said.read_text(encoding="utf-8") if said.exists() else ""


def _run(place: Path, tests: list[str], first: _First) -> int:
    """Run the tests in this process and return the exit code of pytest."""
    resource.setrlimit(resource.RLIMIT_CPU, (RUNAWAY_S, RUNAWAY_S))
    os.chdir(place)
    sys.path[:] = [str(place), *(p for p in sys.path if p not in ("", str(ROOT)))]
    for name in [n for n in sys.modules if n.partition(".")[0] in ("logger", "dashboard", "tests")]:
        del sys.modules[name]
    nothing = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nothing, 1)
    os.dup2(nothing, 2)
    sys.dont_write_bytecode = True
    os.environ.update(PYTHONPATH=str(place), PYTHONDONTWRITEBYTECODE="1")
    options = ["-x", "-q", "-p", "no:cacheprovider", "--assert=plain"]
    return int(pytest.main([*options, *tests], plugins=[first]))

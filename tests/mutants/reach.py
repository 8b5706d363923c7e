"""Which functions of the product each test calls, and how long it takes.

``python -m tests.mutants.reach FILE TESTS...`` runs tests under a tracer of calls and writes what
it found as JSON. Work of a fixture counts for every test that asks for the fixture.
"""

import json
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

import pytest

QUICK = "not slow and not browser"


@dataclass(frozen=True, kw_only=True)
class Reached:
    """What one test calls: file and first line of each function; its processor time [s]."""

    seconds: float
    functions: tuple[str, ...]


class Tracer:
    """A plug-in of pytest that keeps what each passed test calls."""

    def __init__(self, root: Path) -> None:
        self._root = f"{root}/"
        self._called: dict[int, CodeType] = {}
        self._fixtures: dict[int, dict[int, CodeType]] = {}
        self._failed: set[str] = set()
        self.tests: dict[str, Reached] = {}

    def _trace(self, frame: FrameType, event: str, arg: object) -> None:
        self._called[id(frame.f_code)] = frame.f_code

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        self._called = {}
        began_s = time.process_time()
        threading.settrace(self._trace)  # type: ignore[arg-type]  # returns nothing: calls only
        sys.settrace(self._trace)  # type: ignore[arg-type]  # returns nothing: calls only
        yield
        sys.settrace(None)
        threading.settrace(None)  # type: ignore[arg-type]  # how it is taken back
        called = dict(self._called)
        # Of functions only, which all items here are.
        for asked in item._fixtureinfo.name2fixturedefs.values():  # type: ignore[attr-defined]  # as above
            for one in asked:
                called |= self._fixtures.get(id(one), {})
        if item.nodeid not in self._failed:
            self.tests[item.nodeid] = Reached(
                seconds=round(time.process_time() - began_s, 3), functions=self._names(called)
            )

    @pytest.hookimpl(hookwrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any) -> Iterator[None]:
        before, self._called = self._called, {}
        yield
        self._fixtures[id(fixturedef)] = self._called
        self._called = before | self._called

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed or report.skipped:
            self._failed.add(report.nodeid)

    def _names(self, called: dict[int, CodeType]) -> tuple[str, ...]:
        start = f"{self._root}logger/"
        return tuple(
            sorted(
                f"{code.co_filename.removeprefix(self._root)}:{code.co_firstlineno}"
                for code in called.values()
                if code.co_filename.startswith(start)
            )
        )


def read(path: Path) -> dict[str, Reached]:
    """Return what was found before."""
    kept = json.loads(path.read_text(encoding="utf-8"))
    return {
        test: Reached(seconds=one["seconds"], functions=tuple(one["functions"]))
        for test, one in kept.items()
    }


def main(target: Path, tests: list[str]) -> None:
    """Run the tests and write the file."""
    tracer = Tracer(Path.cwd())
    pytest.main(["-q", "-p", "no:cacheprovider", "-m", QUICK, *tests], plugins=[tracer])
    found = {test: asdict(one) for test, one in tracer.tests.items()}
    target.write_text(json.dumps(found), encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2:])

"""Tries changes inside functions without importing anything again.

All tests are collected once. For each change a child is forked that puts the changed code into the
functions that are there already, and runs the tests that were chosen for it. A change of what runs
at import (a constant, a default, a function called then) can't be tried this way: `inside` says so.
"""

import gc
import importlib
import inspect
import os
import resource
import sys
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from pathlib import Path
from types import CodeType, FrameType, FunctionType
from typing import TypeAlias

import pytest

from tests.mutants.changes import ROOT, Mutant
from tests.mutants.reach import QUICK
from tests.mutants.trial import BROKE, RUNAWAY_S

Place: TypeAlias = tuple[str, str, int]
"""File, qualified name and first line of a function."""


class Collected:
    """A plug-in of pytest that hands the collected tests over in place of running them."""

    def __init__(
        self, place: Path, rooms: Sequence[str], use: Callable[["Collected"], None]
    ) -> None:
        self._place = place
        self._rooms = rooms
        self._use = use
        self._imported: dict[int, CodeType] = {}
        self._items: dict[str, pytest.Item] = {}
        self._functions: dict[Place, list[FunctionType]] = {}

    def pytest_sessionstart(self) -> None:
        sys.settrace(self._trace)  # type: ignore[arg-type]  # returns nothing: calls only

    def pytest_collection_finish(self, session: pytest.Session) -> None:
        self._items = {item.nodeid: item for item in session.items}

    def _trace(self, frame: FrameType, event: str, arg: object) -> None:
        self._imported[id(frame.f_code)] = frame.f_code

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Note the functions that are there, those of modules that tests import late too."""
        for path in sorted((self._place / "logger").rglob("*.py")):
            parts = path.relative_to(self._place).with_suffix("").parts
            if parts[1] in self._rooms:
                importlib.import_module(".".join(parts).removesuffix(".__init__"))
        sys.settrace(None)
        start = f"{self._place}/logger/"
        for one in gc.get_objects():
            if isinstance(one, FunctionType) and one.__code__.co_filename.startswith(start):
                self._functions.setdefault(_place(one.__code__), []).append(one)
        self._use(self)
        return True

    def inside(self, mutant: Mutant) -> dict[Place, CodeType] | None:
        """Return the changed code of each function of the file; None for a change at import."""
        text = mutant.path.read_bytes()
        file = str(self._place / mutant.path.relative_to(ROOT))
        changed = text[: mutant.start] + mutant.now.encode() + text[mutant.end :]
        before = list(_codes(compile(text, file, "exec")))
        after = list(_codes(compile(changed, file, "exec")))
        if [c.co_qualname for c in before] != [c.co_qualname for c in after]:
            return None
        imported = {_place(code) for code in self._imported.values()}
        for old, new in zip(before, after, strict=True):
            place = _place(old)
            if _own(old) != _own(new) and (
                not old.co_flags & inspect.CO_NEWLOCALS
                or place in imported
                or len(self._functions.get(place, [])) > 1  # several lambdas of one line
                or not self._is_live(place)
            ):
                return None
        pairs = zip(before, after, strict=True)
        return {_place(old): new for old, new in pairs if old.co_flags & inspect.CO_NEWLOCALS}

    def _is_live(self, place: Place) -> bool:
        """Whether a function is there, or is inside one that is and will be made anew."""
        file, name, _ = place
        around = name.split(".<locals>")[0]
        return any(f == file and n in (name, around) for f, n, _ in self._functions)

    def fails(self, codes: dict[Place, CodeType], tests: list[str]) -> str:
        """Return the first test that fails once the code is changed; nothing if none does."""
        items = [self._items[test] for test in tests if test in self._items]
        said = self._place / f".failed-{os.getpid()}"
        said.unlink(missing_ok=True)
        child = os.fork()
        if child == 0:
            code = BROKE
            try:
                self._change(codes)
                code = _run(items, said)
            finally:  # whatever was raised: a copy of this process must not go on
                os._exit(code)
        code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
        if code == 0:
            return ""
        if code == BROKE:
            raise RuntimeError(f"pytest broke near {tests[0]}")
        return said.read_text(encoding="utf-8") if said.exists() else tests[0]

    def _change(self, codes: dict[Place, CodeType]) -> None:
        for place, code in codes.items():
            for function in self._functions.get(place, []):
                function.__code__ = code


def _run(items: list[pytest.Item], said: Path) -> int:
    """Run tests until one fails and return 1 then, else 0; the test at hand is written down."""
    resource.setrlimit(resource.RLIMIT_CPU, (RUNAWAY_S, RUNAWAY_S))
    nothing = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nothing, 1)
    os.dup2(nothing, 2)
    for item, following in pairwise([*items, None]):
        said.write_text(item.nodeid, encoding="utf-8")
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
        if item.session.testsfailed:
            return 1
    return 0


def collect(
    place: Path, rooms: Sequence[str], asked: Sequence[str], use: Callable[[Collected], None]
) -> None:
    """Collect the quick tests of a copy of the tree and hand them to `use`.

    `rooms` are those whose code is changed, `asked` those whose tests may notice.
    """
    os.chdir(place)
    sys.path[:] = [str(place), *(p for p in sys.path if p not in ("", str(ROOT)))]
    for name in [n for n in sys.modules if n.partition(".")[0] in ("logger", "dashboard", "tests")]:
        del sys.modules[name]
    os.environ.update(PYTHONPATH=str(place))
    options = ["-qq", "-s", "-p", "no:cacheprovider", "--assert=plain", "-m", QUICK]
    folders = [f"tests/{room}" for room in asked]
    pytest.main(
        [*options, f"--basetemp={place}/.tests", *folders], plugins=[Collected(place, rooms, use)]
    )


def _codes(code: CodeType) -> Iterator[CodeType]:
    """Yield a code object and all inside it, in the order of the text."""
    yield code
    for const in code.co_consts:
        if isinstance(const, CodeType):
            yield from _codes(const)


def _own(code: CodeType) -> tuple[object, ...]:
    """Return what a code object does by itself, without the code inside it."""
    consts = [repr(c) for c in code.co_consts if not isinstance(c, CodeType)]
    return code.co_code, consts, code.co_names, code.co_varnames, code.co_freevars


def _place(code: CodeType) -> Place:
    return code.co_filename, code.co_qualname, code.co_firstlineno

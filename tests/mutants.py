"""Wrongs one place of the program at a time and looks whether a test notices.

``python -m tests.mutants --count 30 --seed 1`` works in a copy of the tree: it draws places in the
pure rooms, changes a comparison, a sign, an operator or a number there, and runs the tests of that
folder, then those of the whole room. What no test notices has survived and is listed; a survivor
may be a change that makes no difference, which is for a person to say.
"""

import argparse
import ast
import copy
import os
import random
import resource
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
ROOMS = ("science", "correct", "watch", "review")
COPIED = ("logger", "dashboard", "tests", "fixtures", "pyproject.toml", "README.md")
PROCESSOR_S = 900
"""Processor time of one run of tests; a mutant that goes round for ever is noticed so."""
NO_TESTS = 5
"""What pytest exits with where it finds none."""
_SWAPPED: dict[type[ast.AST], type[ast.AST]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.And: ast.Or,
    ast.Or: ast.And,
}
_CALLED = {"min": "max", "max": "min", "any": "all", "all": "any"}


@dataclass(frozen=True, kw_only=True)
class Mutant:
    """One change: file, line, the text that stood there and what takes its place."""

    path: Path
    line: int
    start: int
    end: int
    was: str
    now: str

    @property
    def says(self) -> str:
        """Where and what, in one line."""
        return f"{self.path.relative_to(ROOT)}:{self.line}  {self.was}  ->  {self.now}"


def mutants_of(path: Path) -> Iterator[Mutant]:
    """Yield every change of one file."""
    text = path.read_text(encoding="utf-8")
    tree = ast.parse(text)
    lines = [0]
    for line in text.encode().splitlines(keepends=True):
        lines.append(lines[-1] + len(line))
    left_alone = {id(n) for skipped in _skipped(tree) for n in ast.walk(skipped)}
    for node in ast.walk(tree):
        if id(node) in left_alone or not isinstance(node, ast.expr):
            continue
        start = lines[node.lineno - 1] + node.col_offset
        end = lines[(node.end_lineno or node.lineno) - 1] + (node.end_col_offset or 0)
        was = text.encode()[start:end].decode()
        for now in _changed(node):
            if now != was:
                yield Mutant(
                    path=path, line=node.lineno, start=start, end=end, was=was, now=f"({now})"
                )


def _skipped(tree: ast.Module) -> Iterator[ast.AST]:
    """Yield what is no behaviour: annotations, decorators, texts of errors, formatted texts."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            yield from node.decorator_list
            yield from filter(
                None,
                [
                    node.returns,
                    *(a.annotation for a in ast.walk(node.args) if isinstance(a, ast.arg)),
                ],
            )
        elif isinstance(node, ast.AnnAssign):
            yield node.annotation
        elif isinstance(node, ast.ClassDef):
            yield from node.decorator_list
        elif isinstance(node, ast.Raise | ast.JoinedStr | ast.Subscript):
            yield node if not isinstance(node, ast.Subscript) else node.slice


def _changed(node: ast.expr) -> Iterator[str]:
    """Yield the texts that an expression may be changed into."""
    other = copy.deepcopy(node)
    if isinstance(other, ast.Compare) and type(other.ops[0]) in _SWAPPED:
        other.ops[0] = _SWAPPED[type(other.ops[0])]()  # type: ignore[assignment]  # any operator
        yield ast.unparse(other)
    elif isinstance(other, ast.BinOp | ast.BoolOp) and type(other.op) in _SWAPPED:
        other.op = _SWAPPED[type(other.op)]()  # type: ignore[assignment]  # any operator
        yield ast.unparse(other)
    elif isinstance(other, ast.UnaryOp) and isinstance(other.op, ast.Not | ast.USub):
        yield ast.unparse(other.operand)
    elif isinstance(other, ast.Constant) and type(other.value) in (int, float):
        yield repr(other.value + 1 if type(other.value) is int else other.value * 1.5 + 0.1)
    elif isinstance(other, ast.Constant) and type(other.value) is bool:
        yield repr(not other.value)
    elif isinstance(other, ast.Call) and ast.unparse(other.func) in _CALLED:
        other.func = ast.Name(_CALLED[ast.unparse(other.func)])
        yield ast.unparse(other)


def drawn(rooms: list[str], count: int, seed: int) -> list[Mutant]:
    """Draw mutants, at most two of a file, so that long files do not take them all."""
    rng = random.Random(seed)
    paths = sorted(p for room in rooms for p in (ROOT / "logger" / room).rglob("*.py"))
    found = []
    for path in rng.sample(paths, len(paths)):
        places = list(mutants_of(path))
        found += rng.sample(places, min(2, len(places)))
    return rng.sample(found, min(count, len(found)))


def folders_of(path: Path) -> list[Path]:
    """Return the folders of tests of a module: the nearest of its mirror, then that of its room."""
    mirror = Path("tests", *path.relative_to(ROOT / "logger").parts[:-1])
    room = Path("tests", mirror.parts[1])
    while not any((ROOT / mirror).glob("test_*.py")) and mirror != room:
        mirror = mirror.parent
    return [mirror] if mirror == room else [mirror, room]


def is_noticed(mutant: Mutant, place: Path, passing: set[Path], *, near: bool) -> bool:
    """Whether a test fails in the copy of the tree with the mutant in it.

    Folders whose tests pass without it are looked at once and kept in `passing`.
    """
    for folder in folders_of(mutant.path)[: 1 if near else None]:
        if folder not in passing and _fails(folder, place):
            raise SystemExit(f"{folder}: its tests fail without any mutant")
        passing.add(folder)
        if _is_noticed_by(folder, mutant, place):
            return True
    return False


def _is_noticed_by(folder: Path, mutant: Mutant, place: Path) -> bool:
    target = place / mutant.path.relative_to(ROOT)
    whole = target.read_bytes()
    target.write_bytes(whole[: mutant.start] + mutant.now.encode() + whole[mutant.end :])
    try:
        return _fails(folder, place)
    finally:
        target.write_bytes(whole)


def _fails(folder: Path, place: Path) -> bool:
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", str(folder)]
    command += ["-m", "not slow and not browser"]
    done = subprocess.run(
        command,
        cwd=place,
        env={**os.environ, "PYTHONPATH": str(place), "PYTHONDONTWRITEBYTECODE": "1"},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_CPU, (PROCESSOR_S, PROCESSOR_S)),
        check=False,
    )
    return done.returncode not in (0, NO_TESTS)


def copied(place: Path) -> None:
    """Copy what the tests need."""
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, place / name, ignore=shutil.ignore_patterns("__pycache__"))
        elif source.is_file():
            shutil.copy(source, place / name)


def main() -> None:
    """Draw, run, and print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--near", action="store_true", help="only the nearest folder of tests")
    parser.add_argument("--room", choices=ROOMS, action="append", help="[default: all]")
    asked = parser.parse_args()
    rooms = asked.room or list(ROOMS)
    killed = dict.fromkeys(rooms, 0)
    survived: dict[str, list[Mutant]] = {room: [] for room in rooms}
    with tempfile.TemporaryDirectory() as scratch:
        place, passing = Path(scratch), set[Path]()
        copied(place)
        for mutant in drawn(rooms, asked.count, asked.seed):
            room = mutant.path.relative_to(ROOT / "logger").parts[0]
            noticed = is_noticed(mutant, place, passing, near=asked.near)
            killed[room] += noticed
            if not noticed:
                survived[room].append(mutant)
            print("killed  " if noticed else "SURVIVED", mutant.says.replace("\n", " "), flush=True)
    print(f"\n{'room':10} killed  survived   (seed {asked.seed})")
    for room in rooms:
        print(f"{room:10} {killed[room]:6d}  {len(survived[room]):8d}")
    whole = sum(killed.values()) + sum(map(len, survived.values()))
    print(f"{'all':10} {sum(killed.values()):6d} of {whole}")


if __name__ == "__main__":
    main()

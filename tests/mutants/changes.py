"""What may be changed in a module, one place at a time, and which places are drawn.

A comparison, a sign, an operator, a number, or one of `min`, `max`, `any`, `all`; never an
annotation, a decorator, an error, a formatted text or an index. A change that makes no difference
is drawn like any other, and counts as one that nobody noticed: a start value that is never read, a
limit that no value meets exactly, or the 0 of ``x or 0.0`` where x is never None.
"""

import ast
import copy
import random
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
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
    """One change: file, line, the text that stood there and what takes its place.

    `function` is the first line of the innermost function around it, 0 outside of any.
    """

    path: Path
    line: int
    function: int
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
    functions = list(_functions(tree))
    for node in ast.walk(tree):
        if id(node) in left_alone or not isinstance(node, ast.expr):
            continue
        start = lines[node.lineno - 1] + node.col_offset
        end = lines[(node.end_lineno or node.lineno) - 1] + (node.end_col_offset or 0)
        was = text.encode()[start:end].decode()
        for now in _changed(node):
            if now != was:
                yield Mutant(
                    path=path,
                    line=node.lineno,
                    function=_function_of(functions, node),
                    start=start,
                    end=end,
                    was=was,
                    now=f"({now})",
                )


def _functions(tree: ast.Module) -> Iterator[tuple[int, int, int]]:
    """Yield the first line of each function as its code object has it, and of its text to where."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            first = min([node.lineno, *(d.lineno for d in node.decorator_list)])
            yield first, node.lineno, node.end_lineno or node.lineno


def _function_of(functions: list[tuple[int, int, int]], place: ast.expr) -> int:
    """Return the first line of the innermost function around a place; 0 outside of any."""
    around = [first for first, start, end in functions if start <= place.lineno <= end]
    return max(around, default=0)


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

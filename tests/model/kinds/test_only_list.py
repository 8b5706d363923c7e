"""No room keeps a list of kinds, nor asks a stage for the name of its kind: it asks the record."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from logger.model.kinds.registry import KINDS

ROOT = Path(__file__).resolve().parents[3]
NAMES = {kind.name for kind in KINDS}
MODELS = {kind.model.__name__ for kind in KINDS}
PHASES = "Phase = Literal"
"""Phases of ingredients share two words with kinds."""


def leaves(node: ast.AST) -> Iterator[ast.AST]:
    """Yield what a literal holds, literals in it too."""
    if isinstance(node, ast.List | ast.Tuple | ast.Set):
        for each in node.elts:
            yield from leaves(each)
    elif isinstance(node, ast.Dict):
        for each in (*node.keys, *node.values):
            if each is not None:
                yield from leaves(each)
    else:
        yield node


def named(node: ast.AST) -> str | None:
    """Return the kind that an expression stands for, by its name or its model."""
    if isinstance(node, ast.Constant) and node.value in NAMES:
        return str(node.value)
    last = node.attr if isinstance(node, ast.Attribute) else getattr(node, "id", None)
    return last if last in MODELS else None


def asks_for_the_kind(node: ast.AST) -> bool:
    if isinstance(node, ast.Subscript):
        return isinstance(node.slice, ast.Constant) and node.slice.value == "kind"
    last = node.attr if isinstance(node, ast.Attribute) else getattr(node, "id", None)
    return last in ("kind", "stage_kind")


def faults(text: str) -> list[str]:
    found = []
    tree = ast.parse(text)
    for node in ast.walk(tree):
        if isinstance(node, ast.List | ast.Tuple | ast.Set | ast.Dict):
            kinds = {name for leaf in leaves(node) if (name := named(leaf)) is not None}
            if len(kinds) > 1:
                found.append(f"line {node.lineno}: a list of {sorted(kinds)}")
        elif isinstance(node, ast.BinOp) and isinstance(node.op, ast.BitOr):
            kinds = {name for leaf in ast.walk(node) if (name := named(leaf)) is not None}
            if len(kinds) > 1:
                found.append(f"line {node.lineno}: a union of {sorted(kinds)}")
        elif isinstance(node, ast.Compare):
            sides = [node.left, *node.comparators]
            if any(asks_for_the_kind(s) for s in sides) and any(
                named(leaf) for s in sides for leaf in leaves(s)
            ):
                found.append(f"line {node.lineno}: {ast.unparse(node)}")
    return found


@pytest.mark.parametrize("top", ["logger", "dashboard"])
def test_no_module_but_the_registry_lists_kinds_or_compares_a_kind_with_a_name(top):
    found = []
    for path in sorted((ROOT / top).rglob("*.py")):
        where = path.relative_to(ROOT)
        if where.parts[:3] == ("logger", "model", "kinds"):
            continue
        lines = path.read_text(encoding="utf-8")
        kept = "\n".join("" if PHASES in line else line for line in lines.splitlines())
        found += [f"{where}, {fault}" for fault in faults(kept)]
    assert not found, "ask logger.model.kinds for a trait:\n" + "\n".join(found)


@pytest.mark.parametrize(
    "text",
    [
        'X = ("chill", "cook")',
        'X = {"chill": 1, "cook": 2}',
        'X = {1: "chill", 2: "cook"}',
        'X = (("chill", "a"), ("cook", "b"))',
        "isinstance(stage, (ChillStage, HoldStage))",
        "isinstance(stage, chill.ChillStage | HoldStage)",
        'x = stage.kind == "set"',
        'x = stage.kind in ("set", "other")',
        'x = row["kind"] != "set"',
    ],
)
def test_a_list_or_a_comparison_is_found(text):
    assert faults(text)


def test_one_kind_by_its_model_is_no_list():
    assert not faults('x = isinstance(stage, SetStage) and facts.stage("chill")')

"""What the program never calls is not in the program: code that only tests use is in tests.

Found by name, so a name that is used for something else hides a dead one; what is found is dead.
"""

import ast
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]

CALLED_BY_A_LIBRARY = {
    "get_command": "click asks a group for its commands",
    "list_commands": "click asks a group for its commands",
    "format_commands": "click asks a group for its help",
    "do_handshake": "ssl calls it",
    "handle_error": "socketserver calls it",
    "service_actions": "socketserver calls it",
    "handle_accept": "waitress calls it",
    "interpolate_index": "Dash asks an app for its page",
    "maintenance": "waitress calls it",
    "parse_header": "waitress calls it",
    "readall": "io.BufferedReader calls it",
    "readinto": "io.BufferedReader calls it",
    "received": "waitress calls it",
    "service": "waitress calls it",
    "to_response": "waitress calls it",
}
MARKS_OF_LIBRARIES = {
    "command",
    "group",
    "callback",
    "model_serializer",
    "model_validator",
    "field_validator",
}
"""Decorators that hand a function to click, Dash or pydantic."""
WRITTEN_DOWN = {
    "age_text": "what the ages that tick in the browser are held to",
    "__all__": "what a module hands on",
    "BENCH_KINDS": "the words of a run file, for its readers",
    "RECORDER_KINDS": "the words of a run file, for its readers",
    "ENGINE_KINDS": "the words of a run file, for its readers",
}
EXCUSED = CALLED_BY_A_LIBRARY | WRITTEN_DOWN


@dataclass(frozen=True, eq=False)
class Definition:
    """A function, method, class or constant of a module, and the names that it uses itself."""

    where: str
    name: str
    uses: frozenset[str]


def names_in(nodes: list[ast.AST]) -> frozenset[str]:
    """Return the names that are read in some code; an import alone reads nothing."""
    inside = [each for node in nodes for each in ast.walk(node)]
    return frozenset(
        [n.id for n in inside if isinstance(n, ast.Name) and not isinstance(n.ctx, ast.Store)]
        + [n.attr for n in inside if isinstance(n, ast.Attribute)]
        + [n.name for n in inside if isinstance(n, ast.alias) and n.asname]
    )


def is_handed_over(node: ast.AST) -> bool:
    marks = [d.func if isinstance(d, ast.Call) else d for d in getattr(node, "decorator_list", [])]
    return bool({ast.unparse(each).split(".")[-1] for each in marks} & MARKS_OF_LIBRARIES)


def definitions_in(body: list[ast.stmt], where: str, inside: str = "") -> Iterator[Definition]:
    """Yield what a module or class defines; a statement that defines nothing has no name."""
    for node in body:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            special = node.name.startswith("__") or is_handed_over(node) or node.name in EXCUSED
            name = "" if special else node.name
            yield Definition(f"{where}: {inside}{node.name}", name, names_in([node]))
        elif isinstance(node, ast.ClassDef):
            methods = [n for n in node.body if isinstance(n, ast.FunctionDef)]
            rest = [n for n in node.body if n not in methods]
            own = names_in([*node.bases, *node.keywords, *node.decorator_list, *rest])
            yield Definition(f"{where}: {node.name}", node.name, own)
            yield from definitions_in(methods, where, f"{node.name}.")
        elif isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            name = "" if node.targets[0].id in EXCUSED else node.targets[0].id
            yield Definition(f"{where}: {node.targets[0].id}", name, names_in([node.value]))
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            name = node.target.id
            own = names_in([each for each in (node.value, node.annotation) if each])
            yield Definition(f"{where}: {name}", name, own)
        else:
            yield Definition(where, "", names_in([node]))


def dead(definitions: list[Definition]) -> list[Definition]:
    """Return what nothing live uses: also what only dead code uses."""
    readers = Counter(name for each in definitions for name in each.uses)
    named: dict[str, list[Definition]] = {}
    for each in definitions:
        named.setdefault(each.name, []).append(each)
    gone: set[Definition] = set()
    doubted = [each for each in definitions if each.name]
    while doubted:
        each = doubted.pop()
        if each in gone or readers[each.name] > (each.name in each.uses):
            continue
        gone.add(each)
        readers.subtract(each.uses)
        doubted += [d for name in each.uses if name for d in named.get(name, ())]
    return [each for each in definitions if each in gone]


@cache
def product() -> list[Definition]:
    return [
        definition
        for top in ("logger", "dashboard")
        for path in sorted((ROOT / top).rglob("*.py"))
        for definition in definitions_in(
            ast.parse(path.read_text(encoding="utf-8")).body, str(path.relative_to(ROOT))
        )
    ]


def test_the_program_uses_all_it_defines():
    found = [d.where for d in dead(product())]
    assert not found, "only tests or nobody use:\n" + "\n".join(found)


def test_what_only_dead_code_uses_is_dead():
    text = "def a(): return b()\ndef b(): return 1\ndef c(): return c()\ndef d(): return 2\nd()"
    found = dead(list(definitions_in(ast.parse(text).body, "here")))
    assert {d.name for d in found} == {"a", "b", "c"}


def test_an_excuse_is_for_something_that_is_there():
    names = {d.where.split(": ")[-1].split(".")[-1] for d in product()}
    assert set(EXCUSED) <= names

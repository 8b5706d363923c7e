"""Docstrings of public functions name units, parameters and exceptions."""

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]

NUMBER = re.compile(r"\b(float|NDArray|ndarray|ArrayLike|Array|Floats|Numeric)\b")
NOT_A_QUANTITY = re.compile(r"NDArray\[np\.(bool_|intp|int64|uint8|object_|str_)\]|Callable\[.*\]")
UNIT = re.compile(r"\[[^\]\n]+\]|\bunits?\b")
HEADING = re.compile(r"^(\w[\w ]*)\n-{3,}$", re.MULTILINE)
TOLD_ELSEWHERE = ("command", "group", "callback", "clientside_callback", "overload")
"""Commands are told by their help, callbacks by their page, overloads by what they overload."""
VALIDATORS = ("field_validator", "model_validator")
"""Raise ValueError by pydantic's contract."""
MANY = 3
"""Arguments from which a Parameters section is asked for."""


@dataclass(frozen=True)
class Function:
    """A public function or method, and where it is."""

    where: str
    node: ast.FunctionDef | ast.AsyncFunctionDef

    @property
    def doc(self) -> str:
        return ast.get_docstring(self.node) or ""

    @property
    def arguments(self) -> list[ast.arg]:
        given = self.node.args
        named = [*given.posonlyargs, *given.args, *given.kwonlyargs]
        named += [star for star in (given.vararg, given.kwarg) if star]
        return [each for each in named if each.arg not in ("self", "cls")]

    @property
    def marks(self) -> set[str]:
        """Last words of the decorators."""
        plain = [d.func if isinstance(d, ast.Call) else d for d in self.node.decorator_list]
        return {ast.unparse(each).split(".")[-1] for each in plain}

    def section(self, name: str) -> str:
        """Return the text of one section, empty without it."""
        parts = HEADING.split(self.doc)
        return next(
            (text for head, text in zip(parts[1::2], parts[2::2], strict=False) if head == name), ""
        )

    def entries(self) -> dict[str, str]:
        """Return what the Parameters section says of each name."""
        said: dict[str, str] = {}
        names: list[str] = []
        for line in self.section("Parameters").splitlines():
            if line and not line[0].isspace():
                names = [n.strip(" *") for n in line.split(" : ")[0].split(",")]
                said |= dict.fromkeys(names, line.partition(" : ")[2])
            else:
                for name in names:
                    said[name] += " " + line.strip()
        return said


def functions_of(path: Path) -> Iterator[Function]:
    """Yield the public functions of a module and the public methods of its public classes."""
    where = str(path.relative_to(ROOT))
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            if "Protocol" in {ast.unparse(b).split("[")[0] for b in node.bases}:
                continue
            inner = [(f"{node.name}.", each) for each in node.body]
        else:
            inner = [("", node)]
        for prefix, each in inner:
            if isinstance(each, ast.FunctionDef | ast.AsyncFunctionDef):
                found = Function(f"{where}: {prefix}{each.name}", each)
                if not each.name.startswith("_") and not found.marks & set(TOLD_ELSEWHERE):
                    yield found


def own_nodes(node: ast.AST) -> Iterator[ast.AST]:
    """Yield what a function itself does, without the functions inside it."""
    for child in ast.iter_child_nodes(node):
        if not isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            yield child
            yield from own_nodes(child)


def raised_by(function: Function) -> set[str]:
    """Return the exceptions that a body raises; '' for one that is not named in the statement."""
    if function.marks & set(VALIDATORS):
        return set()
    names = set()
    for node in own_nodes(function.node):
        if isinstance(node, ast.Raise) and node.exc is not None:
            called = node.exc.func if isinstance(node.exc, ast.Call) else node.exc
            name = ast.unparse(called).split(".")[-1]
            names.add(name if name[0].isupper() else "")
    return names - {"NotImplementedError"}


def is_quantity(argument: ast.arg) -> bool:
    if argument.annotation is None:
        return False
    written = NOT_A_QUANTITY.sub("", ast.unparse(argument.annotation))
    return NUMBER.search(written) is not None


def missing_units(function: Function) -> list[str]:
    numbers = [a.arg for a in function.arguments if is_quantity(a)]
    entries = function.entries()
    if not entries:
        return [] if not numbers or UNIT.search(function.doc) else numbers
    return [name for name in numbers if not UNIT.search(entries.get(name, ""))]


def missing_parameters(function: Function) -> list[str]:
    names = [a.arg for a in function.arguments]
    entries = function.entries()
    return [n for n in names if n not in entries] if len(names) >= MANY or entries else []


def missing_raises(function: Function) -> list[str]:
    said = function.section("Raises")
    return sorted(n or "an exception" for n in raised_by(function) if not said or n not in said)


RULES = {"unit of": missing_units, "Parameters:": missing_parameters, "Raises:": missing_raises}


def rooms() -> list[str]:
    inside = [p for p in (ROOT / "logger").iterdir() if (p / "__init__.py").exists()]
    return [*sorted(p.name for p in inside), "dashboard"]


def faults_of(room: str) -> list[str]:
    folder = ROOT / room if room == "dashboard" else ROOT / "logger" / room
    return [
        f"{function.where}: {rule} {', '.join(missing)}"
        for path in sorted(folder.rglob("*.py"))
        for function in functions_of(path)
        for rule, check in RULES.items()
        if (missing := check(function))
    ]


@pytest.mark.parametrize("room", rooms())
def test_docstrings_name_units_parameters_and_exceptions(room):
    faults = faults_of(room)
    assert not faults, f"{len(faults)} in {room}:\n" + "\n".join(faults)


def function(text: str) -> Function:
    node = ast.parse(text).body[0]
    assert isinstance(node, ast.FunctionDef)
    return Function("here", node)


def test_a_number_without_a_unit_is_found():
    assert missing_units(function('def f(x: float): "Half of x."')) == ["x"]
    assert not missing_units(function('def f(x: float): "Half of x [s]."'))
    assert not missing_units(function('def f(n: int, s: str): "Count."'))


def test_each_number_of_a_section_needs_its_own_unit():
    said = 'def f(a: float, b: float):\n  """Sum.\n\n  Parameters\n  ----------\n  a : float\n'
    assert missing_units(function(said + '      Mass [g].\n  """')) == ["b"]
    assert missing_parameters(function(said + '      Mass [g].\n  """')) == ["b"]


def test_three_arguments_ask_for_a_section():
    assert missing_parameters(function('def f(a: str, b: str, c: str): "Join."')) == ["a", "b", "c"]


def test_an_exception_of_the_body_is_named_and_one_of_an_inner_function_is_not_asked_for():
    assert missing_raises(function('def f():\n "Do."\n raise OSError("x")')) == ["OSError"]
    assert not missing_raises(function('def f():\n "Do."\n def g():\n  raise OSError("x")'))

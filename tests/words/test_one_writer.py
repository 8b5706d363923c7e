"""No module but those of the room writes a duration, an uncertainty, a value or a band by itself.

Read from the source: a number formatted beside a unit, a ``±``, a percent format or a division by
60 inside a text. What looks alike and is none stands below with its reason.
"""

import ast
import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
ROOM = ROOT / "logger" / "words"
BROWSER_SCRIPT = "ages.js"
UNITS = r"(°C|°F|K|g|kg|mg|oz|%|mm|s|min|h|log|g/min|g/h|K/min|degC|[A-Z]{3})"
BESIDE_A_UNIT = re.compile(rf"\s?{UNITS}(?![\w/])")
HAS_NUMBER_FORMAT = re.compile(r"[.,\d]*[fgeGd%]$")

EXCEPTIONS = {
    "dashboard/live/board.py": "widths of the style sheet, in percent of a bar",
    "dashboard/runs/bars.py": "widths of the style sheet, in percent of a bar",
    "dashboard/learn/control.py": "places of the style sheet, in percent of the chart",
    "dashboard/live/rail.py": "widths of the style sheet, in percent of the rail",
    "logger/model/kinds/record/stage.py": "an error in the words of the sheet",
    **{
        f"logger/model/recipe/{module}.py": "errors in the words of the sheet: amounts as typed"
        for module in ("amount", "entry", "flatten", "made", "shares")
    },
    "logger/model/written.py": "errors in the words of the sheet: a quantity as it is typed",
    "logger/science/fats/fatfile.py": "errors in the words of the fat file: 'degC' as it is typed",
    "logger/recorder/care/sensor_check.py": "lines of the bench file, as a person may type them",
    "logger/review/learn/sheet_text.py": "quantities of a sheet's text, as a person may type them",
    "logger/science/gel/slabs.py": "diffusivities, as powers of ten",
    "logger/virtual/lines/bench_file.py": "quantities of a bench file, as a person may type them",
}
SAYS_THAT_IT_IS_EXPANDED = re.compile(r"± is expanded")


def own_writing(tree: ast.AST) -> list[tuple[int, str]]:
    """Return (line, what) of each text that a module writes by itself."""
    found = []
    docstrings = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    } | {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            plain = SAYS_THAT_IT_IS_EXPANDED.sub("", node.value)
            if "±" in plain and id(node) not in docstrings:
                found.append((node.lineno, "an uncertainty"))
        if isinstance(node, ast.JoinedStr):
            found += [(node.lineno, what) for what in _in_text(node)]
        if _divides_time(node):
            found.append((node.lineno, "a clock"))
    return found


def _in_text(text: ast.JoinedStr) -> list[str]:
    found = []
    for place, part in enumerate(text.values):
        if not isinstance(part, ast.FormattedValue):
            continue
        spec = _spec(part)
        after = text.values[place + 1] if place + 1 < len(text.values) else None
        said = after.value if isinstance(after, ast.Constant) else ""
        if spec.endswith("%"):
            found.append("a percentage")
        elif HAS_NUMBER_FORMAT.fullmatch(spec) and BESIDE_A_UNIT.match(said):
            found.append("a value with its unit")
        elif HAS_NUMBER_FORMAT.fullmatch(spec) and re.match(r" to $", said):
            found.append("a band")
        if any(_is_sixty(n) for n in ast.walk(part.value)):
            found.append("minutes")
    return found


def _spec(part: ast.FormattedValue) -> str:
    if not isinstance(part.format_spec, ast.JoinedStr):
        return ""
    return "".join(v.value for v in part.format_spec.values if isinstance(v, ast.Constant))


def _is_sixty(node: ast.AST) -> bool:
    """Tell whether a number is turned into minutes or hours."""
    return (
        isinstance(node, ast.BinOp)
        and isinstance(node.op, ast.Div | ast.FloorDiv)
        and isinstance(node.right, ast.Constant)
        and node.right.value in (60, 3600)
    )


def _divides_time(node: ast.AST) -> bool:
    return (
        isinstance(node, ast.Call)
        and isinstance(node.func, ast.Name)
        and node.func.id == "divmod"
        and isinstance(node.args[1], ast.Constant)
        and node.args[1].value in (60, 3600)
    )


def test_only_the_room_writes_durations_uncertainties_values_and_bands():
    wrong = []
    for top in ("logger", "dashboard"):
        for path in sorted((ROOT / top).rglob("*.py")):
            name = path.relative_to(ROOT).as_posix()
            if ROOM in path.parents or name in EXCEPTIONS:
                continue
            tree = ast.parse(path.read_text(encoding="utf-8"))
            wrong += [f"{name}:{line}: {what}" for line, what in own_writing(tree)]
    assert not wrong, "write these by logger.words:\n" + "\n".join(wrong)


def test_each_exception_is_still_one():
    for name in EXCEPTIONS:
        tree = ast.parse((ROOT / name).read_text(encoding="utf-8"))
        assert own_writing(tree), f"{name} writes nothing by itself any more"


def test_only_one_script_of_the_browser_writes_a_time():
    for path in sorted((ROOT / "dashboard" / "assets").glob("*.js")):
        if path.name != BROWSER_SCRIPT:
            source = path.read_text(encoding="utf-8")
            assert not re.search(r"toFixed|/ 60\b|\" (s|min|h)( ago)?\"|±", source), path.name


def test_what_is_looked_for_is_found():
    """The search itself can fail: each of these is one thing that it must find."""
    for text in (
        'f"{x:.1f} °C"', 'f"{x:g} to {y:g}"', 'f"{x:.0%}"', 'f"{x / 60:.1f}"', '"± 0.6"',
        "divmod(x, 60)", 'f"{x:.2f} EUR"', 'f"{x:.0f} s"',
    ):  # fmt: skip
        assert own_writing(ast.parse(f"y = {text}")), text
    for text in ('f"{x:.2f} of the volume"', 'f"{name} °C"', '"± is expanded, k = 2"'):
        assert not own_writing(ast.parse(f"y = {text}")), text

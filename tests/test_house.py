"""The house keeps its shape: what each room may import, and what pure rooms must not touch."""

import ast
import re
import subprocess
from pathlib import Path

import pytest

from logger.model.kinds.registry import KINDS

ROOT = Path(__file__).resolve().parents[1]

MAY_IMPORT = {
    "model": set(),
    "words": set(),
    "science": set(),
    "wire": set(),
    "correct": {"science"},
    "batch": {"science"},
    "watch": {"science", "correct", "batch"},
    "review": {"science", "correct", "batch", "watch"},
    "ports": {"wire"},
    "store": set(),
    "control": set(),
    "virtual": {"science", "wire", "batch"},
    "recorder": {"science", "wire", "correct", "batch", "watch", "ports", "store", "control"},
    "cli": {
        "science", "wire", "correct", "batch", "watch", "review", "ports", "store", "control",
        "virtual", "recorder",
    },
}  # fmt: skip
EVERYBODY_MAY_IMPORT = {"model", "words"}
MOST_MODULES = 15
"""In one folder: what a person sees at a glance."""
DASHBOARD_MAY_IMPORT = {"model", "words", "store", "review", "batch", "control"}
PURE = ("model", "words", "science", "wire", "correct", "batch", "watch", "review")
IMPURE_MODULES = {"serial", "apsw", "sqlite3", "threading", "time", "socket", "dash", "subprocess"}
MOST_LINES = 400
TOP = {
    "README.md", "DEVELOPERS.md", "pyproject.toml", "logger", "dashboard", "tests", "fixtures",
    "hardware_notes.md", ".ci", ".gitignore", "LICENSE",
}  # fmt: skip


def imports_of(path: Path) -> set[str]:
    """Return the absolute names that a module imports, wherever in it."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            names.add(node.module or "")
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return names


def modules_of(room: str) -> list[Path]:
    return sorted((ROOT / "logger" / room).rglob("*.py"))


def test_every_room_has_a_row_in_the_table():
    rooms = {p.name for p in (ROOT / "logger").iterdir() if (p / "__init__.py").exists()}
    assert rooms == set(MAY_IMPORT)


@pytest.mark.parametrize("room", MAY_IMPORT)
def test_a_room_imports_only_what_its_row_names(room):
    allowed = MAY_IMPORT[room] | {room} | (EVERYBODY_MAY_IMPORT if room != "words" else {"model"})
    for path in modules_of(room):
        for name in imports_of(path):
            parts = name.split(".")
            if parts[0] == "logger" and len(parts) > 1:
                assert parts[1] in allowed, f"{path.relative_to(ROOT)} imports {name}"
            assert parts[0] != "dashboard" or room == "cli", f"{path} imports the dashboard"


def test_the_dashboard_imports_only_what_its_row_names():
    for path in sorted((ROOT / "dashboard").rglob("*.py")):
        for name in imports_of(path):
            parts = name.split(".")
            if parts[0] == "logger" and len(parts) > 1:
                assert parts[1] in DASHBOARD_MAY_IMPORT, f"{path.relative_to(ROOT)} imports {name}"


def test_the_screen_names_what_it_handles():
    """Figures, which plotly reads as they are, have the one alias; all else are records."""
    text = {
        path.relative_to(ROOT).as_posix(): path.read_text(encoding="utf-8")
        for path in (ROOT / "dashboard").rglob("*.py")
    }
    loose = {path: found for path, t in text.items() if (found := t.count("dict[str, Any]"))}
    assert loose == {"dashboard/graphs.py": 1}


def test_the_screen_has_no_list_of_kinds_of_stages():
    named = re.compile("|".join(rf"[\"']{re.escape(kind.name)}[\"']" for kind in KINDS))
    for path in (ROOT / "dashboard").rglob("*.py"):
        found = set(named.findall(path.read_text(encoding="utf-8")))
        assert len(found) < 2, f"{path.relative_to(ROOT)} names {sorted(found)}"


@pytest.mark.parametrize("room", PURE)
def test_a_pure_room_touches_no_clock_port_file_or_thread(room):
    for path in modules_of(room):
        touched = {n.split(".")[0] for n in imports_of(path)} & IMPURE_MODULES
        assert not touched, f"{path.relative_to(ROOT)} imports {sorted(touched)}"


def test_only_the_store_holds_sql():
    for path in (ROOT / "logger").rglob("*.py"):
        if path.relative_to(ROOT).parts[1] != "store":
            assert not {"apsw", "sqlite3"} & {n.split(".")[0] for n in imports_of(path)}, path


PACKAGE_FILES = [
    path for top in ("logger", "dashboard") for path in sorted((ROOT / top).rglob("__init__.py"))
]


@pytest.mark.parametrize("path", PACKAGE_FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_package_file_holds_a_map_and_no_code(path):
    body = ast.parse(path.read_text(encoding="utf-8")).body
    assert len(body) == 1
    assert isinstance(body[0], ast.Expr)
    assert isinstance(body[0].value, ast.Constant)


@pytest.mark.parametrize("room", [*MAY_IMPORT, "dashboard"])
def test_a_package_file_names_what_lies_in_its_folder(room):
    folder = ROOT / room if room == "dashboard" else ROOT / "logger" / room
    for path in sorted(folder.rglob("__init__.py")):
        if path.parent.name == "kinds":
            continue  # a module a kind: the registry names them
        doc = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
        inside = {p.stem for p in path.parent.glob("*.py")} - {"__init__", "__main__"}
        inside |= {p.parent.name for p in path.parent.glob("*/__init__.py")}
        if path.parent.name == "stages":
            inside -= {kind.name for kind in KINDS}  # a folder a kind: likewise
        missing = {name for name in inside if f"``{name}``" not in doc}
        assert not missing, f"{path.relative_to(ROOT)} does not name {sorted(missing)}"


def test_every_module_opens_with_a_docstring():
    for path in [*(ROOT / "logger").rglob("*.py"), *(ROOT / "dashboard").rglob("*.py")]:
        assert ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))), path


def test_the_top_level_holds_what_was_agreed_and_nothing_else():
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if listed.returncode:
        pytest.skip("not a git checkout: nothing says which files belong to the tree")
    assert {line.split("/")[0] for line in listed.stdout.splitlines()} <= TOP


@pytest.mark.parametrize("top", ["logger", "dashboard"])
def test_a_module_is_short_enough_to_be_one_idea(top):
    lengths = {
        path.relative_to(ROOT).as_posix(): len(path.read_text(encoding="utf-8").splitlines())
        for path in (ROOT / top).rglob("*.py")
    }
    assert {path: n for path, n in lengths.items() if n > MOST_LINES} == {}


@pytest.mark.parametrize("top", ["logger", "dashboard", "tests"])
def test_no_folder_is_crowded(top):
    for folder in [ROOT / top, *(p for p in (ROOT / top).rglob("*") if p.is_dir())]:
        modules = [p for p in folder.glob("*.py") if p.name != "__init__.py"]
        assert len(modules) <= MOST_MODULES, f"{folder.relative_to(ROOT)}: {len(modules)} modules"


def test_modules_import_each_other_in_no_circle():
    """Imports for type checking count: a circle of ideas is one, however Python loads it."""
    files = {
        ".".join(p.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): p
        for top in ("logger", "dashboard")
        for p in (ROOT / top).rglob("*.py")
    }
    arrows = {name: (imports_of(path) & set(files)) - {name} for name, path in files.items()}
    left = dict(arrows)
    while free := [name for name, used in left.items() if not used & set(left)]:
        for name in free:
            del left[name]
    assert not left, f"modules in or behind a circle: {sorted(left)}"

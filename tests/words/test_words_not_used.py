"""Words that the program doesn't use: no text that a person sees has one with a better word."""

import ast
import re
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
ROOMS = ("logger", "dashboard")
PAPERS = ("README.md", "hardware_notes.md")
BETTER = {
    r"lies? in": "is in",
    r"held against": "compared with",
    r"side by side|laid over": "next to each other, or compare",
    r"recipe file": "sheet",
    r"line shapes?": "line format",
    r"room above the setting": "margin above the setting point",
    r"will lead to|what it leads to": "what to expect",
    r"mend": "correct",
    r"reads well|text reads": "valid",
    r"whoever": "who",
    r"wired as": "source",
    r"write (it|this) down|written down": "save",
    r"stop it": "stop",
    r"how it is": "status",
    r"should be": "target",
    r"rank 0|rank \d+ of": "score 84 of 100",
    r"was so|still so|no longer so": "active, over, cleared, acknowledged",
    r"will lie between|would lie between": "typical",
    r"can.t be foretold": "no forecast possible",
}
NOT_USED = re.compile(rf"\b(?:{'|'.join(BETTER)})\b", re.IGNORECASE)


def shown(path):
    """Strings of a module that are no docstrings; a command's docstring is its help."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    texts = set()
    for node in ast.walk(tree):
        command = isinstance(node, ast.FunctionDef) and node.decorator_list
        body = getattr(node, "body", ())
        if not isinstance(body, list) or (path.parent.name == "cli" and command):
            continue
        for inner in body:
            if isinstance(inner, ast.Expr) and isinstance(inner.value, ast.Constant):
                texts.add(inner.value)
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and node not in texts:
            yield node.lineno, node.value


def scripted(path):
    """Strings in double quotes of a script, comments left out; ours are written in no other way."""
    text = path.read_text(encoding="utf-8")
    code = re.sub(r"/\*.*?\*/|(?m:^\s*//.*$)", lambda m: "\n" * m[0].count("\n"), text, flags=re.S)
    for number, line in enumerate(code.splitlines(), 1):
        for found in re.finditer(r'"((?:[^"\\]|\\.)*)"', line):
            yield number, found[1]


def every_text():
    for room in ROOMS:
        for path in sorted((TOP / room).rglob("*")):
            texts = {".py": shown, ".js": scripted}.get(path.suffix)
            if texts is not None:
                yield from ((path.relative_to(TOP), line, text) for line, text in texts(path))
    for name in PAPERS:
        for number, line in enumerate((TOP / name).read_text("utf-8").splitlines(), 1):
            yield Path(name), number, line


def test_no_text_that_a_person_sees_has_a_word_that_is_not_used():
    found, reached = [], set()
    for path, line, text in every_text():
        reached.add(str(path.parent))
        if word := NOT_USED.search(text):
            found.append(f"{path}:{line}: {word[0]!r}")
    assert not found, f"better words: {BETTER}"
    assert {"logger/cli", "dashboard/runs", "dashboard/wiring", "dashboard/assets"} <= reached

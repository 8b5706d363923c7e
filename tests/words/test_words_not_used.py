"""Words that the program doesn't use: no text of ours in logger has one that has a better word."""

import ast
import re
from pathlib import Path

LOGGER = Path(__file__).resolve().parents[2] / "logger"
BETTER = {
    r"lies? in": "is in",
    r"held against": "compared with",
    r"side by side|laid over": "next to each other, or compare",
    r"recipe file": "sheet",
    r"line shapes?": "line format",
    r"room above the setting": "margin above the setting point",
    r"will lead to|what it leads to": "what to expect",
    r"mend": "correct",
    r"reads well": "valid",
    r"whoever": "who",
    r"wired as": "source",
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


def test_no_text_of_logger_has_a_word_that_is_not_used():
    found = [
        f"{path.relative_to(LOGGER)}:{line}: {word[0]!r}"
        for path in sorted(LOGGER.rglob("*.py"))
        for line, text in shown(path)
        if (word := NOT_USED.search(text))
    ]
    assert not found, f"better words: {BETTER}"

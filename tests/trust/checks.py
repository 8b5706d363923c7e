"""Collects what the tests hold against the outside: ``python -m tests.trust.checks [--write]``.

A test says in its docstring, or in a comment beside the value, where its numbers come from: a
standard, a paper, a data set, a package, common practice, memory. From these the list in
DEVELOPERS.md is made (``--write`` brings it up to date), and a test compares the two.
"""

import ast
import functools
import io
import re
import sys
import tokenize
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "DEVELOPERS.md"
BEGIN, END = "<!-- checks: made by `python -m tests.trust.checks --write` -->", "<!-- /checks -->"
SOURCE = re.compile(
    r"\b(?:ISO|IEC|ASTM|NIST|JIS|JCGM|GUM|OIML|IAPWS|WCAG|W3C|ANSI|ILAC|RFC|FSIS|FDA|IUPAC|MODBUS|"
    r"OWASP|C\.M\.R\.|CAS registry|[Hh]andbook|[Hh]andbooks|doi|DOI|data set|[Pp]ackages?|"
    r"reference library|[Cc]ommon practice|from memory|Archimedes|Stokes-Einstein|Steiner|Neumann|"
    r"Carslaw|Crank)\b"
    r"|\b[A-Z][a-z]+ \(?(?:18|19|20)\d\d\)?|\bof (?:18|19)\d\d\b"
)
"""What makes a sentence name a source; a value worked by hand has none."""


def _words(name: str) -> str:
    return name.removeprefix("test_").replace("_", " ")


def _line(text: str) -> str:
    return " ".join(text.split()).replace("|", "/").replace("<", "&lt;")


def docstrings(tree: ast.Module) -> Iterator[tuple[str, str]]:
    """Yield what is held and its source: of the module, its tests, its fixtures."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.FunctionDef | ast.ClassDef):
            said = ast.get_docstring(node)
            if said and SOURCE.search(said):
                yield (
                    _words(node.name) if not isinstance(node, ast.Module) else "the whole file",
                    said,
                )


def comments(text: str) -> Iterator[tuple[str, str]]:
    """Yield comments that name a source, those of following lines as one."""
    block: list[str] = []
    last = -1
    for token in [*tokenize.generate_tokens(io.StringIO(text).readline)]:
        if token.type != tokenize.COMMENT:
            continue
        if token.start[0] != last + 1 and block:
            yield "values", " ".join(block)
            block = []
        block.append(token.string.lstrip("# "))
        last = token.start[0]
    if block:
        yield "values", " ".join(block)


@functools.cache
def collected() -> dict[str, list[tuple[str, str]]]:
    """Return the checks of each test file: what is held, and against what."""
    found: dict[str, list[tuple[str, str]]] = {}
    for path in sorted((ROOT / "tests").rglob("*.py")):
        if not (path.name.startswith("test_") or path.name == "conftest.py"):
            continue
        text = path.read_text(encoding="utf-8")
        rows = [
            *docstrings(ast.parse(text)),
            *(row for row in comments(text) if SOURCE.search(row[1])),
        ]
        if rows:
            found[path.relative_to(ROOT).as_posix()] = rows
    return found


def fixtures() -> dict[str, str]:
    """Return the head of each file of published numbers: its title and locator."""
    heads = {}
    for path in sorted((ROOT / "fixtures" / "published").iterdir()):
        lines = path.read_text(encoding="utf-8").splitlines()
        head = [line.lstrip("# ") for line in lines[:8] if line.startswith("#")][:3]
        if path.suffix == ".dat":
            head = ["NIST/ITL Statistical Reference Datasets, nonlinear regression", path.stem]
        heads[path.name] = "; ".join(part.split(": ", 1)[-1].rstrip(";") for part in head)
    return heads


def page_part() -> str:
    """Return the part of DEVELOPERS.md that lists all of them."""
    out = [BEGIN, "", "| published numbers in `fixtures/published` | source |", "|---|---|"]
    out += [f"| {name} | {_line(head)} |" for name, head in fixtures().items()]
    out += ["", "| check | source, as its test says it |", "|---|---|"]
    for file, rows in collected().items():
        out.append(f"| **{file.removeprefix('tests/')}** | |")
        out += [f"| {_line(held)} | {_line(source)} |" for held, source in rows]
    return "\n".join([*out, "", END])


def written() -> str:
    """Return the part as it stands in DEVELOPERS.md; empty when there is none."""
    page = PAGE.read_text(encoding="utf-8")
    if BEGIN not in page or END not in page:
        return ""
    return page[page.index(BEGIN) : page.index(END) + len(END)]


def main() -> None:
    """Print the list, or put it into DEVELOPERS.md."""
    if "--write" not in sys.argv[1:]:
        print(page_part())
        return
    before = written()
    if not before:
        sys.exit(f"{PAGE}: the marks {BEGIN} and {END} are missing")
    page = PAGE.read_text(encoding="utf-8")
    PAGE.write_text(page.replace(before, page_part()), encoding="utf-8")


if __name__ == "__main__":
    main()

"""Names and notes of a file are text: no markup of a table, nothing that a terminal acts on."""

import re
from pathlib import Path

import pytest

import logger.cli
from logger.cli.options import printable, say, table

NASTY = (
    "Beet roll [/b]",
    "calcium chloride [dihydrate]",
    "[red]no[/red]",
    "\x1b]0;owned\x07",
    "\u202e",
)


@pytest.fixture(autouse=True)
def wide(monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")


@pytest.mark.parametrize("text", NASTY)
def test_a_cell_a_head_and_a_title_are_shown_as_they_are(text, capsys):
    table(text, [text, "b"], [[text, "x"], ["y", text]])
    out = capsys.readouterr().out
    assert out.count(printable(text)) == 4
    assert all(c.isprintable() or c == "\n" for c in out)


@pytest.mark.parametrize("text", NASTY)
def test_a_line_holds_nothing_that_a_terminal_acts_on(text, capsys):
    say(f"Note: {text}")
    assert capsys.readouterr().out == f"Note: {printable(text)}\n"


def test_every_line_of_a_command_goes_the_same_way():
    """Only how far a reading has come, which goes back to the start of its line, does not."""
    told = {
        path.name: len(re.findall(r"click\.echo\(|\bprint\(", path.read_text()))
        for path in Path(logger.cli.__file__).parent.glob("*.py")
    }
    assert {name: n for name, n in told.items() if n} == {"files.py": 1, "options.py": 3}

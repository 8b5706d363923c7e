"""The tables of commands in README.md and DEVELOPERS.md name every command, and no other."""

import re

import click
import pytest

from logger.cli.main import COMMANDS, group


def every_command():
    context = click.Context(group)
    for name in COMMANDS:
        command = group.get_command(context, name)
        if isinstance(command, click.Group):
            yield from (f"{name} {below}" for below in command.list_commands(context))
        else:
            yield name


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_the_table_of_commands_is_complete(fixtures, page):
    text = (fixtures.parent / page).read_text(encoding="utf-8")
    table = text.partition("## Commands")[2].partition("\n## ")[0]
    rows = [line.split("|")[1] for line in table.splitlines() if line.startswith("| `")]
    listed = [name for row in rows for name in re.findall(r"`([^`]+)`", row)]
    assert sorted(listed) == sorted(every_command())

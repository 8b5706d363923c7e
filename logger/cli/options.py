"""The options and the printing that commands share."""

import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from logger.control.messages import encode

Command = TypeVar("Command", bound=Callable[..., Any])


def data_option(command: Command) -> Command:
    """Add ``--data DIR``; the environment's ``BAINLOG_DATA`` or the user's data folder else."""
    return click.option(
        "--data",
        "data",
        type=click.Path(path_type=Path, file_okay=False),
        envvar="BAINLOG_DATA",
        default=default_folder,
        help="Data folder. [default: BAINLOG_DATA or the user's data folder]",
    )(command)


def json_option(command: Command) -> Command:
    """Add ``--json``."""
    return click.option("--json", "as_json", is_flag=True, help="Print JSON.")(command)


def default_folder() -> Path:
    """Return the platform's user data folder for bainlog."""
    import platformdirs

    return Path(platformdirs.user_data_dir("bainlog", appauthor=False))


def print_json(value: Any) -> None:
    """Print JSON, indented; numbers that are not finite become null."""
    click.echo(json.dumps(json.loads(encode({"value": value}))["value"], indent=1))


def table(title: str, heads: list[str], rows: list[list[str]]) -> None:
    """Print a table as wide as the terminal; to a pipe, as wide as it needs.

    Parameters
    ----------
    title : str
        Above the table.
    heads : list of str
        Names of the columns.
    rows : list of list of str
        Cells, a list for each row.
    """
    from rich import box
    from rich.console import Console
    from rich.table import Table

    grid = Table(*heads, title=title, title_justify="left", box=box.SIMPLE_HEAD)
    for row in rows:
        grid.add_row(*row)
    console = Console()
    if not console.is_terminal and "COLUMNS" not in os.environ:
        console = Console(width=200)
    console.print(grid)

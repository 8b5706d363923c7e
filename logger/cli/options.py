"""The options, the typed times and the printing that commands share."""

import contextlib
import functools
import io
import json
import os
import re
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any, BinaryIO, Literal, TypeVar

import click
from click.core import ParameterSource

from logger.control.messages import encode
from logger.model.errors import InputError
from logger.model.quantity import number_in
from logger.model.rows import StartRow

Command = TypeVar("Command", bound=Callable[..., Any])


def data_option(command: Command) -> Command:
    """Add ``--data DIR``; the environment's ``BAINLOG_DATA`` or the user's data folder else."""
    return _data_option(None)(command)


def kept_data_option(command: Command) -> Command:
    """Add ``--data DIR`` to a command that only makes sense where runs are kept already.

    A folder that was named and is not there is a slip of the hand: it is refused, not made.
    """
    return _data_option(_is_there)(command)


def _data_option(look: Callable[..., Path] | None) -> Callable[[Command], Command]:
    return click.option(
        "--data",
        "data",
        type=click.Path(path_type=Path, file_okay=False),
        envvar="BAINLOG_DATA",
        default=default_folder,
        callback=look,
        help="Data folder. [default: BAINLOG_DATA or the user's data folder]",
    )


def _is_there(context: click.Context, option: click.Parameter, folder: Path) -> Path:
    given = context.get_parameter_source(str(option.name)) is ParameterSource.COMMANDLINE
    if given and not folder.exists():
        raise InputError("--data", f"{folder} does not exist", "name a folder where runs are kept")
    return folder


def json_option(command: Command) -> Command:
    """Add ``--json``."""
    return click.option("--json", "as_json", is_flag=True, help="Print JSON.")(command)


def about_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add ``--operator``, ``--size``, ``--lot`` and ``--instead``; given as `about`."""

    @click.option("--operator", default="", help="Who makes the batch.")
    @click.option("--size", default="", help="How much is made, such as '12 pieces'.")
    @click.option("--lot", "lots", multiple=True, help="Another lot: 'oat fibre=OF-2'.")
    @instead_option
    @functools.wraps(command)
    def packed(
        *, operator: str, size: str, lots: tuple[str, ...], instead: tuple[str, ...], **others: Any
    ) -> Any:
        about = StartRow(
            operator=operator,
            size=size,
            lots=pairs_of("--lot", lots, "oat fibre=OF-2"),
            instead=instead_of(instead),
        )
        return command(about=about, **others)

    return packed


def instead_option(command: Command) -> Command:
    """Add ``--instead``."""
    says = "An alternative of the sheet: 'oat fibre=barley bran'."
    return click.option("--instead", multiple=True, help=says)(command)


def instead_of(given: Iterable[str]) -> dict[str, str]:
    """Return alternatives by ingredient, of what was given with ``--instead``.

    Raises
    ------
    InputError
        If one has no ``=``.
    """
    return pairs_of("--instead", given, "oat fibre=barley bran")


def paper_options(command: Command) -> Command:
    """Add ``-o`` and ``--paper`` of what is written on paper."""
    out = click.Path(path_type=Path)
    to = click.option("-o", "--output", type=out, required=True, help="A .pdf or .png file.")
    size = click.option(
        "--paper",
        type=click.Choice(["a4", "letter"]),
        default="a4",
        show_default=True,
        help="Size of the pages of a PDF.",
    )
    return to(size(command))


@contextlib.contextmanager
def to_paper(output: Path) -> Iterator[tuple[BinaryIO, Literal["pdf", "png"]]]:
    """Open a file for a paper, and say which kind it is by its ending.

    Raises
    ------
    InputError
        If it has another ending, or cannot be written.
    """
    kind = output.suffix.lower()
    if kind not in (".pdf", ".png"):
        raise InputError(
            str(output), f"can't write {kind or 'a file without an ending'}", "name it .pdf or .png"
        )
    made = io.BytesIO()
    yield made, "pdf" if kind == ".pdf" else "png"
    try:
        output.write_bytes(made.getvalue())
    except OSError as cause:
        found = f"cannot be written ({cause.strerror})"
        raise InputError(str(output), found, "give another place") from cause


def write_new(path: Path, text: str) -> None:
    """Write a file that is not there yet.

    Raises
    ------
    InputError
        If it is there, or cannot be written.
    """
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError as cause:
        raise InputError(str(path), "already exists", "give another name") from cause
    except OSError as cause:
        raise InputError(
            str(path), f"cannot be written ({cause.strerror})", "give another place"
        ) from cause


def pairs_of(option: str, given: Iterable[str], like: str) -> dict[str, str]:
    """Return what is said of ingredients, by ingredient, of texts such as ``oat fibre=OF-2``.

    Parameters
    ----------
    option : str
        That was given.
    given : iterable of str
        Its values.
    like : str
        A right one.

    Raises
    ------
    InputError
        If one has no ``=``.
    """
    pairs = {}
    for text in given:
        ingredient, is_there, said = text.partition("=")
        if not is_there or not ingredient.strip():
            raise InputError(option, repr(text), f"write for example {like!r}")
        pairs[ingredient.strip()] = said.strip()
    return pairs


def default_folder() -> Path:
    """Return the platform's user data folder for bainlog."""
    import platformdirs

    return Path(platformdirs.user_data_dir("bainlog", appauthor=False))


def printable(text: str) -> str:
    """Return text in which a terminal finds nothing to act on: signs that do not print, spelled.

    Line ends and tabs stay.
    """
    return "".join(c if c.isprintable() or c in "\n\t" else ascii(c)[1:-1] for c in text)


def say(text: str, *, err: bool = False) -> None:
    """Print text, of which a part may come from a file or from somebody."""
    click.echo(printable(text), err=err)


def say_if_heard(text: str, *, err: bool = False) -> None:
    """Say a line, also when the terminal is gone."""
    with contextlib.suppress(OSError):
        say(text, err=err)


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
    from rich.text import Text

    def plain(text: str) -> Text:
        # Names and notes are text, whatever a terminal or its library reads into brackets.
        return Text(printable(text))

    grid = Table(title=plain(title), title_justify="left", box=box.SIMPLE_HEAD)
    for place, head in enumerate(heads):
        # What a row is of stays whole in any width.
        grid.add_column(plain(head), no_wrap=place == 0)
    for row in rows:
        grid.add_row(*map(plain, row))
    console = Console()
    if not console.is_terminal and "COLUMNS" not in os.environ:
        console = Console(width=200)
    console.print(grid)


def moment_s(text: str, from_s: float) -> float:
    """Return a time on the run's clock [s]: ``12:04``, ``1:08:06``, ``724 s``, or ``-10 s``.

    Parameters
    ----------
    text : str
        As typed; with a sign it is a distance.
    from_s : float
        Where a distance starts [s].

    Raises
    ------
    InputError
        If it is no time.
    """
    shown = text.strip()
    found = re.fullmatch(r"(?:(\d{1,3}):)?(\d{1,3}):(\d{2}(?:\.\d+)?)", shown, re.ASCII)
    if found is not None:
        hours, minutes, rest = found.groups()
        return 3600.0 * int(hours or 0) + 60.0 * int(minutes) + float(rest)
    try:
        time_s = number_in(shown.removeprefix("+"), "s")
    except ValueError as cause:
        said = str(cause).partition("; ")[0]
        raise InputError("--to", said, "write for example '12:04' or '-10 s'") from cause
    return max(0.0, from_s + time_s if shown[:1] in ("+", "-") else time_s)

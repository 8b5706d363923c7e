"""The ``bainlog`` command: loads a command's module only when it is used.

Errors of ours become one line on standard error: exit 2 when the input is wrong, a damaged run file
among it, 1 when the tool failed. Nothing heavy is imported here, so that ``--help`` is quick.
"""

import difflib
import errno
import importlib
import logging
import re
import sys

import click

from logger.model.errors import BadFileError, BainlogError, InputError

COMMANDS = {
    "demo": ("logger.cli.demo:demo", "Play a batch on the virtual bench and watch it live."),
    "start": ("logger.cli.start:start", "Start recorder and screen for a real bench."),
    "record": ("logger.cli.start:record", "Record a run without a screen."),
    "ports": ("logger.cli.ports:ports", "List serial ports, listen, and propose a bench file."),
    "plan": (
        "logger.cli.plan:plan",
        "Say what to expect from a sheet, before anything is weighed.",
    ),
    "sheet": ("logger.cli.sheet:sheet", "Make, check, scale, compare and print batch sheets."),
    "sensor": ("logger.cli.sensor:sensor", "Record what a probe or scale is: role, type, class."),
    "sensor-check": (
        "logger.cli.sensor:sensor_check",
        "Check a probe or scale at a known value.",
    ),
    "slab": ("logger.cli.slab:slab", "Record a slab test: how fast your alginate sets."),
    "runs": ("logger.cli.runs:runs", "List the recorded runs."),
    "show": ("logger.cli.runs:show", "Show what a run found: stages, dwells, findings."),
    "events": (
        "logger.cli.runs:events",
        "List what was done in a run; undo or move an entry.",
    ),
    "outcome": ("logger.cli.runs:outcome", "Record how a batch came out."),
    "explain": ("logger.cli.why:explain_", "Say why a batch came out as it did."),
    "compare": ("logger.cli.why:compare_", "Put runs next to each other."),
    "report": ("logger.cli.report:report", "Write a report to pass on, as HTML, PDF or PNG."),
    "learn": ("logger.cli.why:learn", "Write a sheet with the targets that worked."),
    "export": ("logger.cli.files:export", "Write a run as CSV, Parquet or JSON."),
    "photo": ("logger.cli.files:photo", "Add a photo to a run."),
    "import": ("logger.cli.files:import_", "Read a CSV file as a run."),
    "replay": ("logger.cli.files:replay", "Judge a run again from its raw bytes."),
    "remove": ("logger.cli.folder:remove", "Move a run to the bin."),
    "bin": ("logger.cli.folder:bin_", "List the bin, empty it, or put a run back."),
    "backup": ("logger.cli.folder:backup", "Copy the data folder, even while recording."),
    "restore": ("logger.cli.folder:restore", "Make a data folder from a copy."),
}


class LazyGroup(click.Group):
    """A group that knows its commands' names and one-line helps without importing them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names in the order of a day at the bench."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import and return one command.

        Raises
        ------
        TypeError
            If the table names something that is no command.
        """
        if cmd_name not in COMMANDS:
            return None
        module_name, _, attribute = COMMANDS[cmd_name][0].partition(":")
        command = getattr(importlib.import_module(module_name), attribute)
        if not isinstance(command, click.Command):
            raise TypeError(f"{COMMANDS[cmd_name][0]} is not a command")
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list for ``--help`` without importing anything."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="bainlog")
def group() -> None:
    """Read the bench, say what to do now, keep the run, explain the batch."""


def main() -> None:
    """Run the command line; the entry point of the distribution."""
    logging.basicConfig(format="%(levelname)s %(name)s: %(message)s", level=logging.WARNING)
    try:
        sys.exit(group.main(prog_name="bainlog", standalone_mode=False) or 0)
    except (InputError, BadFileError) as cause:
        _fail(str(cause), 2)
    except BainlogError as cause:
        _fail(str(cause), 1)
    except click.UsageError as cause:
        _fail(usage_text(cause), 2)
    except click.ClickException as cause:
        cause.show()
        sys.exit(1)
    except (click.Abort, KeyboardInterrupt):
        _fail("stopped", 1)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(1)
    except OSError as cause:
        if cause.errno not in (errno.EMFILE, errno.ENFILE):
            raise
        _fail("too many files are open; raise the limit with 'ulimit -n 1024' and try again", 1)


def usage_text(cause: click.UsageError) -> str:
    """Return what is wrong with a command as it was typed, and what to type instead.

    Parameters
    ----------
    cause : click.UsageError
        From the parser, whose own words are not the ones of this program.
    """
    typed = cause.ctx.command_path if cause.ctx is not None else "bainlog"
    help_ = f"see {typed} --help"
    if isinstance(cause, click.MissingParameter) and cause.param is not None:
        choices = _choices(cause.param)
        return f"{_called(cause.param)} is missing; {f'write {choices}' if choices else help_}"
    if isinstance(cause, click.NoSuchOption):
        near = " or ".join(cause.possibilities or ())
        return f"there is no option {cause.option_name}; {f'write {near}' if near else help_}"
    if isinstance(cause, click.BadOptionUsage):
        return f"{cause.option_name} needs a value after it, or takes none; {help_}"
    if isinstance(cause, click.BadParameter) and cause.param is not None:
        found = re.search(r"'[^']*'|^\S+(?= is not in the range)", cause.message)
        value = f"{found[0]} " if found else ""
        return f"{_called(cause.param)}: {value}{_wanted(cause.param, cause.message)}"
    if name := re.fullmatch(r"No such command '(.*)'\.", cause.message):
        close = difflib.get_close_matches(name[1], COMMANDS, n=1)
        do = f"write {close[0]}" if close else help_
        return f"there is no command {name[1]}; {do}"
    if more := re.fullmatch(r"Got unexpected extra arguments? \((.*)\)", cause.message):
        return f"too many words: {more[1]}; {help_}"
    return f"{cause.message.rstrip('.')}; {help_}"


def _called(param: click.Parameter) -> str:
    """Return what a person calls an option or an argument."""
    if isinstance(param, click.Option):
        return max(param.opts, key=len)
    return param.human_readable_name.replace("_", " ").upper()


def _choices(param: click.Parameter) -> str:
    return " or ".join(param.type.choices) if isinstance(param.type, click.Choice) else ""


def _wanted(param: click.Parameter, said: str) -> str:
    """Return what is wrong with a value, and what would do."""
    kind = param.type
    if isinstance(kind, click.Choice):
        return f"is not one of them; write {_choices(param)}"
    if isinstance(kind, click.IntRange | click.FloatRange):
        ends = [f"at least {kind.min}" if kind.min is not None else "",
                f"at most {kind.max}" if kind.max is not None else ""]  # fmt: skip
        return f"is out of range; write {' and '.join(filter(None, ends))}"
    if isinstance(kind, click.types.IntParamType):
        return "is not a whole number; write for example 3"
    if isinstance(kind, click.types.FloatParamType):
        return "is not a number; write for example 1.5"
    if isinstance(kind, click.Path):
        why = "is a folder" if "directory" in said and not kind.dir_okay else "can't be used here"
        return f"{why}; name {'a file' if kind.file_okay else 'a folder'}"
    return f"can't be used here: {said.rstrip('.')}"


def _fail(message: str, code: int) -> None:
    from logger.cli.options import say

    say(" ".join(f"bainlog: {message}".split()), err=True)
    sys.exit(code)

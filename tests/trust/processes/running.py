"""Commands as processes of their own, for the tests of how they end and outlive each other."""

import contextlib
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

from logger.control.client import Client
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView
from tests.faults.scale import Table, until

COMMAND = "import sys; from logger.cli.main import main; main()"


class Running:
    """A command under way.

    Parameters
    ----------
    *words : str
        What follows ``bainlog``.
    sigint : str
        ``default``, or ``ignored`` as by a shell that starts it in the background.
    files : int or None
        Most files that it may have open.
    stdin : int
        As of `subprocess.Popen`.
    """

    def __init__(
        self,
        *words: str | Path,
        sigint: str = "default",
        files: int | None = None,
        stdin: int = subprocess.DEVNULL,
    ) -> None:
        def prepare() -> None:
            signal.signal(signal.SIGINT, signal.SIG_IGN if sigint == "ignored" else signal.SIG_DFL)
            signal.signal(signal.SIGHUP, signal.SIG_DFL)  # nohup has it ignored
            if files is not None:
                import resource

                resource.setrlimit(resource.RLIMIT_NOFILE, (files, files))

        self.process = subprocess.Popen(
            [sys.executable, "-u", "-c", COMMAND, *map(str, words)],
            stdin=stdin,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            start_new_session=True,
            preexec_fn=prepare,
        )
        self.lines: list[str] = []
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        with self.process.stdout:
            for line in self.process.stdout:
                self.lines.append(line.rstrip())

    def said(self, text: str) -> str | None:
        """Return the first line that holds a text."""
        return next((line for line in list(self.lines) if text in line), None)

    def hear(self, text: str) -> str:
        """Wait until it says something; return the line.

        Raises
        ------
        AssertionError
            If it ends without saying it.
        """
        until(lambda: self.said(text) or self.process.poll() is not None, text)
        self._reader.join(0.0 if self.process.poll() is None else 5.0)
        found = self.said(text)
        assert found, f"ended with {self.process.poll()}: {self.lines}"
        return found

    def wait(self) -> int:
        """Wait for its end and all it said; return its exit code."""
        code = self.process.wait(120)
        self._reader.join(5.0)
        return code

    def children(self) -> list[int]:
        """Return the processes that it started and that are there."""
        found = []
        for entry in Path("/proc").iterdir():
            with contextlib.suppress(OSError, ValueError, IndexError):
                words = (entry / "stat").read_text().rpartition(")")[2].split()
                if int(words[1]) == self.process.pid:
                    found.append(int(entry.name))
        return found


@contextlib.contextmanager
def running(*words: str | Path, **how: object) -> Iterator[Running]:
    """Run a command; what is left of it and its children is killed at the end."""
    command = Running(*words, **how)  # type: ignore[arg-type]  # passed on as it came
    left: list[int] = []
    try:
        yield command
    finally:
        left = [*command.children(), command.process.pid]
        if command.process.poll() is None:
            for number in left:
                with contextlib.suppress(ProcessLookupError):
                    os.kill(number, signal.SIGKILL)
        command.wait()
        if command.process.stdin is not None:
            command.process.stdin.close()


def gone(number: int) -> bool:
    """Whether a process has ended, reaped or not."""
    try:
        text = Path(f"/proc/{number}/stat").read_text()
    except OSError:
        return True
    return text.rpartition(")")[2].split()[0] in "ZX"


def recording(at: Table, *words: str, **how: object) -> contextlib.AbstractContextManager[Running]:
    """Run ``record`` on a table."""
    return running(
        "record", "--bench", at.folder / "bench.toml", "--sheet", at.folder / "x.sheet.toml",
        "--data", at.data, *words, **how,
    )  # fmt: skip


def run_of(command: Running) -> str:
    """Wait for the run that ``record`` begins; return its id."""
    return command.hear("run 2").split("run ")[1].split(".")[0].split(";")[0]


def recorder_of(at: Table) -> int:
    """Return the process of the recorder that answers."""
    with Client(at.data) as client:
        return int(client.ask("ping")["pid"])


def kinds(at: Table, run_id: str) -> tuple[str, list[str]]:
    """Return the status of a run and the kinds of its events."""
    with RunView.open(DataFolder(at.data).run_path(run_id)) as view:
        return view.status, [e.kind for e in view.events()]

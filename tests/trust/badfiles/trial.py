"""One command on one bad file: what it said, its exit, its cost, and what it left behind."""

import os
import resource
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]
CPU_S = 5.0
MEMORY_MB = 512.0
_HARD_CPU_S = 60
_REPORT = """
import atexit, os, resource, sys
def told():
    used = resource.getrusage(resource.RUSAGE_SELF)
    # The highest of this program alone; that of getrusage begins with its parent's.
    most = next(int(l.split()[1]) for l in open("/proc/self/status") if l[:6] == "VmHWM:")
    with open(os.environ["BADFILE_COST"], "w") as file:
        file.write(f"{used.ru_utime + used.ru_stime} {most / 1024}")
atexit.register(told)
from logger.cli.main import main
main()
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """What one command did."""

    name: str
    said: str
    lines: int
    exit: int
    cpu_s: float
    memory_mb: float
    left: tuple[str, ...]

    def faults(self, exits: tuple[int, ...] = (2,)) -> list[str]:
        """Return what must not have been."""
        found = []
        if self.exit not in exits:
            found.append(f"exit {self.exit}")
        if "Traceback" in self.said:
            found.append("a traceback")
        if self.lines != 1:
            found.append(f"{self.lines} lines")
        if self.cpu_s > CPU_S:
            found.append(f"{self.cpu_s:.1f} s of processor time")
        if self.memory_mb > MEMORY_MB:
            found.append(f"{self.memory_mb:.0f} MB")
        if self.left:
            found.append(f"left {', '.join(self.left)}")
        return found


def tried(name: str, words: list[str], data: Path, cost: Path) -> Trial:
    """Run a command with limits.

    Parameters
    ----------
    name : str
        Of the file.
    words : list of str
        Of the command.
    data : Path
        Data folder; what is in it afterwards and was not before is left behind.
    cost : Path
        Where the child writes what it used.
    """
    before = set(_files(data))
    cost.write_text("0 0")
    done = subprocess.run(
        [sys.executable, "-c", _REPORT, *words],
        env={**os.environ, "BAINLOG_DATA": str(data), "BADFILE_COST": str(cost),
             "PYTHONPATH": str(ROOT), "COLUMNS": "200", "OPENBLAS_NUM_THREADS": "1"},
        capture_output=True, text=True, errors="replace", check=False,
        preexec_fn=limited, stdin=subprocess.DEVNULL,
    )  # fmt: skip
    cpu_s, memory_mb = map(float, cost.read_text().split())
    said = done.stderr.strip() or done.stdout.strip()
    return Trial(
        name=name,
        said=said,
        lines=len(done.stderr.strip().splitlines()),
        exit=done.returncode,
        cpu_s=cpu_s,
        memory_mb=memory_mb,
        left=tuple(sorted(set(_files(data)) - before)),
    )


def limited() -> None:
    """Limit the process: it is ended when it computes for a minute or takes 4 GB."""
    resource.setrlimit(resource.RLIMIT_CPU, (_HARD_CPU_S, _HARD_CPU_S))
    resource.setrlimit(resource.RLIMIT_AS, (4 << 30, 4 << 30))


def _files(folder: Path) -> list[str]:
    own = ("recorder.lock",)
    return [
        str(path.relative_to(folder))
        for path in folder.rglob("*")
        if path.is_file() and path.name not in own
    ]


Made = Callable[[Path], list[str]]
"""Makes a bad file in a folder and returns the words of the command that reads it."""

"""The virtual bench in a process of its own, as a real bench is: a busy screen cannot stall it.

``BenchProcess`` offers what ``instruments.VirtualBench`` does; the child plays the seeded run.
The child is told by lines on its standard input (``start``, ``restart``). It ends when that closes
or its parent is gone, however the parent ended. Its first line of output tells the batch (JSON):
what works it out is slow to load, and loaded by the child only.
"""

import contextlib
import functools
import json
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from logger.model.errors import InputError
from logger.virtual.batch.causes import check_causes
from logger.virtual.lines.batch_clock import BatchClock, check_speed
from logger.virtual.readings.faults import Fault, faults_of

if TYPE_CHECKING:
    from logger.virtual.batch.acts import Word
    from logger.virtual.lines.instruments import VirtualBench
    from logger.virtual.readings.simulate import SimulatedRun

_STOP_S = 5.0
_LOOK_S = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What the child says of its batch.

    Attributes
    ----------
    bench, sheet : str
        Text of the bench file and of the batch sheet.
    words : list
        What the operator says: time in the batch [s], kind, data.
    end_s : float
        How long the batch is [s].
    """

    bench: str
    sheet: str
    words: list["Word"]
    end_s: float


class BenchProcess:
    """A virtual bench whose instruments speak from another process.

    Parameters
    ----------
    folder, seed, speed, short, faults, causes, oven
        As of `VirtualBench`.

    Raises
    ------
    InputError
        As of `VirtualBench`.
    """

    def __init__(
        self,
        folder: Path,
        seed: int = 1,
        speed: float = 1.0,
        short: bool = False,
        faults: Iterable[str | Fault] = (),
        causes: Iterable[str] = (),
        *,
        oven: bool = False,
    ) -> None:
        known = faults_of(faults)
        self.speed = check_speed(speed)
        chosen = check_causes(causes, short=short)
        self._clock = BatchClock(speed)
        self._simulate = functools.partial(_simulate, seed, chosen, known, short=short, oven=oven)
        asked = {
            "folder": str(folder),
            "seed": seed,
            "speed": speed,
            "short": short,
            "faults": [f"{f.name}@{f.at_s:f}+{f.for_s:f}:{f.target}" for f in known],
            "causes": list(chosen),
            "oven": oven,
        }
        self._command = [sys.executable, "-m", "logger.virtual.process", json.dumps(asked)]
        self._spawn()
        self._told = self._hear_batch()

    def _spawn(self) -> None:
        self._child = subprocess.Popen(
            self._command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            encoding="utf-8",
        )

    def _hear_batch(self) -> Told:
        first = self._child.stdout.readline() if self._child.stdout is not None else ""
        if not first:
            self.stop()
            raise InputError("the virtual bench", "its process stopped at once", "see its log")
        said = json.loads(first)
        return Told(**said | {"words": [(t_s, kind, data) for t_s, kind, data in said["words"]]})

    @functools.cached_property
    def run(self) -> "SimulatedRun":
        """The batch that the child plays, worked out here as well."""
        return self._simulate()

    @property
    def now_s(self) -> float:
        """Where the batch is [s]."""
        return self._clock.now_s()

    @property
    def end_s(self) -> float:
        """How long the batch is [s]."""
        return self._told.end_s

    def has_ended(self) -> bool:
        """Whether its process is gone, though nobody stopped it here."""
        return self._child.poll() is not None

    def replace(self) -> None:
        """Put another process in the place of one that has ended; its batch is not begun yet.

        Raises
        ------
        InputError
            If it ends at once.
        """
        self.stop()
        self._spawn()
        self._told = self._hear_batch()

    def start(self) -> None:
        """Begin the batch; the instruments begin to speak."""
        self._tell("start")

    def restart(self) -> None:
        """Begin the batch again: call it when a run starts."""
        self._tell("restart")

    def _tell(self, word: str) -> None:
        if self._child.stdin is not None and self._child.poll() is None:
            with contextlib.suppress(BrokenPipeError):  # it has just ended: `has_ended` says so
                self._child.stdin.write(word + "\n")
                self._child.stdin.flush()
            # Only what is sent from here on is of the batch that begins: wait until it has begun.
            answer = self._child.stdout.readline() if self._child.stdout is not None else ""
            self._clock.restart(float(answer) if answer else None)

    def stop(self) -> None:
        """Stop the instruments and take their ports away."""
        if self._child.stdin is not None and not self._child.stdin.closed:
            with contextlib.suppress(BrokenPipeError):
                self._child.stdin.close()
        try:
            self._child.wait(_STOP_S)
        except subprocess.TimeoutExpired:
            self._child.kill()
            self._child.wait()
        if self._child.stdout is not None:
            self._child.stdout.close()

    def __enter__(self) -> "BenchProcess":
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    def bench_text(self) -> str:
        """Return a bench file for the ports as they are."""
        return self._told.bench

    def sheet_text(self) -> str:
        """Return the batch sheet of this batch."""
        return self._told.sheet

    def operator_script(self) -> list["Word"]:
        """Return what the operator says: (time in the batch [s], kind, data)."""
        return list(self._told.words)

    def truth(self) -> dict[str, Any]:
        """Return what really happens in this batch; see ``judge.truth_of``."""
        return self.run.truth


def _simulate(*about: Any, **more: Any) -> "SimulatedRun":
    from logger.virtual.readings.simulate import simulate

    return simulate(*about, **more)


def serve(asked: dict[str, Any]) -> None:
    """Be the child: make the bench, say its file, then do as the lines of the input say."""
    # Ctrl-C and the end of a terminal go to the whole group: the parent decides when the bench is
    # no longer needed.
    for name in ("SIGINT", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_IGN)
    from logger.virtual.lines.instruments import VirtualBench

    parent = os.getppid()
    bench = VirtualBench(Path(asked.pop("folder")), **asked)
    threading.Thread(target=_end_with, args=(parent, bench), daemon=True).start()
    try:
        told = Told(
            bench=bench.bench_text(),
            sheet=bench.sheet_text(),
            words=bench.operator_script(),
            end_s=bench.end_s,
        )
        sys.stdout.write(json.dumps(asdict(told)) + "\n")
        sys.stdout.flush()
        for line in sys.stdin:
            word = line.strip()
            if word == "start":
                bench.start()
            elif word == "restart":
                bench.restart()
            sys.stdout.write(f"{bench.origin_s!r}\n")
            sys.stdout.flush()
    except BrokenPipeError:
        pass  # the parent was stopped meanwhile
    finally:
        bench.stop()


def _end_with(parent: int, bench: "VirtualBench") -> None:
    """End when the parent is gone, also where a copy of the pipe elsewhere keeps the input open."""
    pause = threading.Event()
    while os.getppid() == parent:
        pause.wait(_LOOK_S)
    last = threading.Timer(_STOP_S, os._exit, (1,))
    last.daemon = True
    last.start()
    pause.wait(_LOOK_S)  # the input has closed, too, as a rule: the orderly end is under way
    bench.stop()
    os._exit(0)


if __name__ == "__main__":
    serve(json.loads(sys.argv[1]))

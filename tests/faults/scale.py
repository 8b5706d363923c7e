"""A numbered scale on a pseudo-terminal, a folder with its files, a recorder to start and kill."""

import contextlib
import dataclasses
import os
import signal
import subprocess
import threading
import time
import tty
from collections.abc import Callable, Iterator
from pathlib import Path

from logger.recorder.launch import start_process
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView

INTERVAL_S = 0.02
MOST_LOST_S = 1.0
SHEET = '[sheet]\nname = "Bath only"\n[[stage]]\nid = "skin"\nkind = "set"\n'
BENCH = """
[[instrument]]
id = "scale"
port = "{port}"
shape = "flag-first comma weight"
[[channel]]
id = "bath_scale"
instrument = "scale"
field = "mass"
role = "bath_scale"
resolution = 0.1
sensor = {{ kind = "balance", linearity = "0.2 g" }}
"""


def weight_line(mass: float, unit: str = "g") -> bytes:
    """Return a line of the scale."""
    return f"ST,GS,+{mass:8.1f}  {unit}\r\n".encode()


def counting(number: int) -> bytes:
    """A mass that is the number of its line, so that a hole shows."""
    return weight_line(float(number))


class Scale:
    """Sends a line every 20 ms; when nobody reads, the line is gone, as on a real cable."""

    def __init__(self, line: Callable[[int], bytes] = counting) -> None:
        self._main, self._other = os.openpty()
        tty.setraw(self._main)
        tty.setraw(self._other)
        os.set_blocking(self._main, False)
        self._line = line
        self.port = os.ttyname(self._other)
        self.sent = 0
        self._speaking = threading.Lock()
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self) -> "Scale":
        self._thread.start()
        return self

    def __exit__(self, *failure: object) -> None:
        self._stopping.set()
        self._thread.join()
        os.close(self._main)
        os.close(self._other)

    def _run(self) -> None:
        due = time.monotonic()
        while not self._stopping.wait(max(0.0, due - time.monotonic())):
            due += INTERVAL_S
            with self._speaking:
                self.sent += 1
                with contextlib.suppress(BlockingIOError):
                    os.write(self._main, self._line(self.sent))

    def flood(self, count: int) -> None:
        """Send so many lines as fast as they are taken."""
        with self._speaking:
            numbers = range(self.sent + 1, self.sent + 1 + count)
            data = memoryview(b"".join(map(self._line, numbers)))
            self.sent += count
            os.set_blocking(self._main, True)
            while data:
                data = data[os.write(self._main, data) :]
            os.set_blocking(self._main, False)


@dataclasses.dataclass
class Table:
    """A folder with a scale on it and the files for it."""

    folder: Path
    scale: Scale
    speed: float = 1.0

    @property
    def data(self) -> Path:
        """Data folder."""
        return self.folder / "data"

    def recorder(self) -> "subprocess.Popen[bytes]":
        """Start a recorder."""
        return start_process(
            self.data, self.folder / "bench.toml", self.folder / "x.sheet.toml", speed=self.speed
        )

    def values(self, run_id: str) -> list[float]:
        """Return what is stored."""
        with RunView.open(DataFolder(self.data).run_path(run_id)) as view:
            return list(view.readings("bath_scale").value.tolist())


@contextlib.contextmanager
def table(
    folder: Path, line: Callable[[int], bytes] = counting, speed: float = 1.0
) -> Iterator[Table]:
    """Put a scale on a table."""
    with Scale(line) as scale:
        (folder / "bench.toml").write_text(BENCH.format(port=scale.port))
        (folder / "x.sheet.toml").write_text(SHEET)
        yield Table(folder, scale, speed)


def until(look: Callable[[], object], what: str, within_s: float = 120.0) -> None:
    """Wait until something is true.

    Raises
    ------
    TimeoutError
        If it does not come true.
    """
    pause, end = threading.Event(), time.monotonic() + within_s
    while not look():
        if time.monotonic() > end:
            raise TimeoutError(f"{what} did not come true")
        pause.wait(0.02)


def end(process: "subprocess.Popen[bytes]") -> None:
    """Tell a recorder to stop."""
    process.terminate()
    process.wait(60)
    if process.stderr is not None:
        process.stderr.close()


def kill(process: "subprocess.Popen[bytes]") -> None:
    """Kill it as a power button would."""
    os.kill(process.pid, signal.SIGKILL)
    process.wait()
    if process.stderr is not None:
        process.stderr.close()


def gapless(values: list[float]) -> bool:
    """Say whether lines of a counting scale are all there."""
    return len(values) > 0 and values == [values[0] + n for n in range(len(values))]

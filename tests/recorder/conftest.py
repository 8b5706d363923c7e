"""A scale on a pseudo-terminal that counts, and the files of a bench with it."""

import contextlib
import os
import threading
import tty
from collections.abc import Iterator
from pathlib import Path

import pytest

from logger.control.client import Client
from logger.recorder.launch import start_process

SHEET = """
[sheet]
name = "Smoked beet and barley roll"

[[stage]]
id = "skin"
kind = "set"
dwell = { low = "6 min", high = "12 min" }

[[stage]]
id = "rinse"
kind = "rinse"
dwell = { low = "0.1 s" }
ends = "bench"
"""

BENCH = """
[[instrument]]
id = "scale"
port = "{port}"
shape = "{shape}"

[[channel]]
id = "bath_scale"
instrument = "scale"
field = "mass"
role = "bath_scale"
resolution = 0.1
sensor = {{ kind = "balance", linearity = "0.2 g" }}
"""


class CountingScale:
    """Sends one line every 20 ms; the mass is the number of the line, so that a hole shows."""

    INTERVAL_S = 0.02

    def __init__(self) -> None:
        self._master, slave = os.openpty()
        tty.setraw(self._master)
        tty.setraw(slave)
        self._slave = slave
        self.port = os.ttyname(slave)
        self.sent = 0
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        os.set_blocking(self._master, False)

    def start(self) -> "CountingScale":
        self._thread.start()
        return self

    def stop(self) -> None:
        self._stopping.set()
        self._thread.join()
        os.close(self._master)
        os.close(self._slave)

    def _run(self) -> None:
        while not self._stopping.wait(self.INTERVAL_S):
            self.sent += 1
            # When nobody reads and the line is full it is gone, as with a real cable.
            with contextlib.suppress(BlockingIOError):
                os.write(self._master, f"ST,GS,+{self.sent:8.1f}  g\r\n".encode())


@pytest.fixture
def scale():
    device = CountingScale().start()
    yield device
    device.stop()


@pytest.fixture
def bench_files(tmp_path: Path, scale: CountingScale) -> tuple[Path, Path]:
    """Bench file and sheet file for the counting scale."""
    return _files(tmp_path, scale)


def _files(folder: Path, scale: CountingScale) -> tuple[Path, Path]:
    from logger.wire.shapes.shape import builtin_shapes

    shape = next(n for n in builtin_shapes() if "flag" in n and "first" in n)
    bench, sheet = folder / "bench.toml", folder / "roll.sheet.toml"
    bench.write_text(BENCH.format(port=scale.port, shape=shape))
    sheet.write_text(SHEET)
    return bench, sheet


@pytest.fixture(scope="module", params=["idle", "recording"])
def refusing(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[str, Client]]:
    """What a recorder does, and a client of it, for commands that change nothing."""
    folder = tmp_path_factory.mktemp(request.param)
    device = CountingScale().start()
    process = start_process(folder / "data", *_files(folder, device))
    with Client(folder / "data") as client:
        if request.param == "recording":
            client.send("start")
        yield request.param, client
    process.terminate()
    process.wait(60)
    if process.stderr is not None:
        process.stderr.close()
    device.stop()

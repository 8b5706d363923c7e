"""Eight probes on a pseudo-terminal that speak as fast as they are told, and a sheet for them."""

import contextlib
import math
import os
import threading
import time
import tty

PROBES = 8
SHEET = """
[sheet]
name = "Smoked beet and barley roll"
[[stage]]
id = "warm"
kind = "heat"
fat = { low = "44 degC", high = "58 degC" }
"""
ROLES = ("fat", "water", "emulsion", "bath", "core", "room", "other", "other")


class Probes(threading.Thread):
    """Eight temperatures on one pseudo-terminal.

    Parameters
    ----------
    rate_hz : float
        Lines a second of the wall.
    """

    def __init__(self, rate_hz: float) -> None:
        super().__init__(daemon=True)
        self._rate_hz = rate_hz
        self.master, self.slave = os.openpty()
        tty.setraw(self.master)
        tty.setraw(self.slave)
        os.set_blocking(self.master, False)
        self.port = os.ttyname(self.slave)
        self._stopping = threading.Event()

    def bench_text(self) -> str:
        parts = [
            '[[instrument]]\nid = "probes"\n'
            f'port = "{self.port}"\nshape = "comma list of 8 probes"\n'
        ]
        parts += [
            f'[[channel]]\nid = "p{n}"\ninstrument = "probes"\nfield = "t{n + 1}"\n'
            f'role = "{role}"\nlabel = "Probe {n + 1}"\n'
            for n, role in enumerate(ROLES)
        ]
        return "".join(parts)

    def run(self) -> None:
        due = time.monotonic()
        while not self._stopping.wait(max(0.0, due - time.monotonic())):
            due += 1.0 / self._rate_hz
            values = (30.0 + 4.0 * n + math.sin(due / 7.0 + n) for n in range(PROBES))
            with contextlib.suppress(BlockingIOError):
                os.write(self.master, (",".join(f"{v:.2f}" for v in values) + "\n").encode())

    def stop(self) -> None:
        self._stopping.set()
        self.join()
        os.close(self.master)
        os.close(self.slave)

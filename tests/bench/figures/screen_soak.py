"""The live page left open beside a batch that runs ten times as fast: what memory is held.

Recorder, server of the page and browser are processes of their own; the page shows the whole batch,
so that what it draws grows with it.
"""

import math
import re
import subprocess
import sys
import tempfile
import threading
from pathlib import Path
from typing import Any

import psutil

from logger.control.client import Client
from logger.recorder.launch import start_process
from tests.bench.figures.browsing import browsers, leave_page_open, load, rss_mb
from tests.bench.figures.probes import PROBES, SHEET, Probes

SPEED, RATE_HZ = 10.0, 10.0
SETTLED_MIN = 5
"""Minutes after which memory must have stopped growing."""


def main(minutes: float) -> None:
    """Print what is held each minute, and the growth at the end."""
    probes = Probes(RATE_HZ * SPEED)
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        (folder / "bench.toml").write_text(probes.bench_text())
        (folder / "load.sheet.toml").write_text(SHEET)
        data = folder / "data"
        probes.start()
        recorder = start_process(
            data, folder / "bench.toml", folder / "load.sheet.toml", speed=SPEED
        )
        command = [sys.executable, "-u", "-m", "dashboard", "--data", str(data), "--port", "0"]
        server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        try:
            found = re.search(r"http://\S+", server.stdout.readline() if server.stdout else "")
            with Client(data) as client:
                client.send("start")
                held = _watch(found[0] if found else "", recorder.pid, server.pid, minutes)
                batch_s = client.state().t_s
                client.send("run_end")
        finally:
            for process in (server, recorder):
                process.terminate()
                process.wait(60)
                for pipe in (process.stdout, process.stderr):
                    if pipe is not None:
                        pipe.close()
            probes.stop()
    names = ("recorder", "server", "browser", "page's heap")
    first, last = held[min(SETTLED_MIN, len(held) - 1)], held[-1]
    print(
        f"{minutes:g} min at speed {SPEED:g}, {PROBES} x {RATE_HZ:g} Hz, {batch_s / 3600:.1f} h of "
        f"a batch; from minute {SETTLED_MIN} on: "
        + ", ".join(
            f"{name} {before:.0f} to {after:.0f} MB ({100.0 * (after / before - 1.0):+.1f} %)"
            for name, before, after in zip(names, first, last, strict=True)
        )
        + f"; {load()}"
    )


def _watch(url: str, recorder: int, server: int, minutes: float) -> list[tuple[float, ...]]:
    """Return what recorder, server, browser and the page's heap hold [MB], each minute.

    The heap is looked at twice only, else nan: each look leaves something in it.
    """
    held: list[tuple[float, ...]] = []
    pause = threading.Event()
    with leave_page_open(url) as look:
        look(_show_all)
        for minute in range(math.ceil(minutes) + 1):
            heap_mb = look(_heap_mb) if minute in (SETTLED_MIN, math.ceil(minutes)) else math.nan
            processes = [[psutil.Process(recorder)], [psutil.Process(server)], browsers()]
            held.append((*(rss_mb(some) for some in processes), heap_mb))
            print(
                f"after {minute} min: recorder {held[-1][0]:.0f} MB, server {held[-1][1]:.0f} MB, "
                f"browser {held[-1][2]:.0f} MB, its page's heap {held[-1][3]:.1f} MB",
                flush=True,
            )
            if minute < minutes:
                pause.wait(60.0)
    return held


def _show_all(page: Any) -> None:
    page.wait_for_selector("#bench-page[data-state=recording]")
    page.click('[data-window="all"]')


def _heap_mb(page: Any) -> float:
    line = page.context.new_cdp_session(page)
    line.send("HeapProfiler.collectGarbage")
    return float(page.evaluate("performance.memory.usedJSHeapSize")) / 1e6

"""A Chromium of one's own, and what it uses; for the figures of pages."""

import contextlib
import os
from collections.abc import Iterator
from typing import Any

import psutil

CHROMIUM = os.environ.get("BAINLOG_CHROMIUM", "/usr/bin/chromium")
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip


@contextlib.contextmanager
def open_browser() -> Iterator[Any]:
    """Start a browser and end it."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        try:
            yield browser
        finally:
            browser.close()


def browsers() -> list[psutil.Process]:
    """The browser processes that this process started."""
    return [p for p in psutil.Process().children(recursive=True) if "chrom" in p.name()]


def used_s(processes: list[psutil.Process]) -> float:
    """Processor time that processes have used [s]."""
    total = 0.0
    for process in processes:
        with contextlib.suppress(psutil.NoSuchProcess):
            total += sum(process.cpu_times()[:2])
    return total


def rss_mb(processes: list[psutil.Process]) -> float:
    """Memory that processes hold, shared parts counted in each [MB]."""
    total = 0.0
    for process in processes:
        with contextlib.suppress(psutil.NoSuchProcess):
            total += process.memory_info().rss / 1e6
    return total


def load() -> str:
    """How busy the machine is: a figure measured at more than 0.7 says little."""
    return f"the machine's load was {os.getloadavg()[0] / (os.cpu_count() or 1):.1f} a core"

"""A Chromium of one's own, and what it uses; for the figures of pages."""

import contextlib
import os
import subprocess
import tempfile
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import psutil

from tests.conftest import CHROMIUM, FLAGS


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


@contextlib.contextmanager
def leave_page_open(url: str) -> Iterator[Callable[[Callable[[Any], Any]], Any]]:
    """Open a page in a browser that nobody watches; yields ``look(do)`` to look in now and then.

    A browser that is watched keeps for the one who watches what its pages fetch, which would be
    taken for memory of the page.
    """
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        own = [
            "--headless=new", "--window-size=1280,800", "--remote-debugging-port=0",
            f"--user-data-dir={profile}", url,
        ]  # fmt: skip
        quiet = subprocess.DEVNULL
        process = subprocess.Popen([CHROMIUM, *FLAGS, *own], stdout=quiet, stderr=quiet)
        told, pause = Path(profile) / "DevToolsActivePort", threading.Event()
        while not (told.exists() and told.read_text().count("\n")):
            pause.wait(0.05)

        def look(do: Callable[[Any], Any]) -> Any:
            with sync_playwright() as play:
                port = told.read_text().split()[0]
                browser = play.chromium.connect_over_cdp(f"http://127.0.0.1:{port}")
                return do(browser.contexts[0].pages[0])

        try:
            yield look
        finally:
            process.terminate()
            process.wait()


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

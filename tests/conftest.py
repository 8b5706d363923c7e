"""What every test may use: the Chromium that is there, and deadlines for waiting.

Run on several cores with ``-n logical``: rooms whose tests live by the clock, with ttys, processes
and live pages, follow one another on one core; each other file goes to a free one.
"""

import os
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

DEADLINE_S = 30.0
CHROMIUM = os.environ.get("BAINLOG_CHROMIUM", "/usr/bin/chromium")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
BY_THE_CLOCK = {"cli", "control", "dashboard", "faults", "ports", "recorder", "trust"}
OF_ENDED_RUNS = ("test_every_page", "test_run_graph_browser", "test_why_and_beside")
"""Files of the dashboard's room whose pages draw what is over; they share a shelf of runs."""
AT_ANY_TIME = (
    "test_drawing", "test_fuzz", "test_reasons", "test_run_drawing", "test_runs", "test_security",
    "test_sheets", "test_strip", "test_together", "test_upgrade",
)  # fmt: skip
"""Files of those rooms that wait for nothing."""


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """Say which tests stay together when several cores share the work."""
    from xdist.scheduler import LoadScopeScheduling

    class Rooms(LoadScopeScheduling):
        def _split_scope(self, nodeid: str) -> str:
            file = nodeid.partition("::")[0]
            if Path(file).stem in OF_ENDED_RUNS:
                return "of ended runs"
            clock = file.split("/")[1] in BY_THE_CLOCK and Path(file).stem not in AT_ANY_TIME
            return "by the clock" if clock else file

    return Rooms(config, log)


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """A Chromium; without one the test is skipped, and fails where CI is set."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        _no_browser("the playwright package is missing: pip install 'bainlog[test]'")
    if not Path(CHROMIUM).exists():
        _no_browser(
            f"no Chromium at {CHROMIUM}: install one (Debian: apt install chromium) or set "
            "BAINLOG_CHROMIUM to where it is"
        )
    with sync_playwright() as play:
        running = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield running
        running.close()


def _no_browser(why: str) -> None:
    if os.environ.get("CI") == "true":
        pytest.fail(why)
    pytest.skip(why)


@pytest.fixture
def eventually() -> Callable[[Callable[[], object]], object]:
    """Return a function that looks again until something is true, or fails after a deadline."""

    def wait(look: Callable[[], object], within_s: float = DEADLINE_S) -> object:
        pause = threading.Event()
        for _ in range(int(within_s / 0.02)):
            found = look()
            if found:
                return found
            pause.wait(0.02)
        pytest.fail(f"did not come true within {within_s} s")

    return wait


@pytest.fixture
def fixtures() -> Path:
    """Return the folder of published numbers and other fixtures."""
    return Path(__file__).resolve().parents[1] / "fixtures"

"""What every test may use: the Chromium that is there, and deadlines for waiting.

Run on several cores with ``-n logical``: one worker more than cores, because tests on ttys,
processes and live pages wait more than they compute. Two of three workers take such tests first,
the third those that compute; each takes the longest that is left, and helps the others out at the
end.
"""

import logging
import os
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

# How long an example takes says how busy the machine is.
settings.register_profile(
    "steady", settings.default, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("steady")

# The browser's driver reports tasks that ended with their page whenever they are cleaned up, in
# whatever test runs then; no test looks for them, and some count the lines of a log.
logging.getLogger("asyncio").disabled = True

DEADLINE_S = 150.0
"""For what comes true in a moment on an idle machine."""
WORK_S = 10.0
"""Processor time that hostile input may cost [s]."""
CHROMIUMS = ("/usr/bin/chromium-headless-shell", "/usr/bin/chromium")
CHROMIUM = os.environ.get("BAINLOG_CHROMIUM") or next(
    (path for path in CHROMIUMS if Path(path).exists()), CHROMIUMS[-1]
)
"""The one without windows starts and opens pages in half the time."""
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE 127.0.0.1",  # no page reaches another machine
]
TOGETHER = {
    "dashboard/test_every_page": "ended runs",
    "dashboard/runs/test_run_graph_browser": "ended runs",
    "dashboard/learn/test_why_and_beside": "ended runs",
    "answers/test_answers": "second kitchen",
    "review/why/test_second_kitchen": "second kitchen",
}
"""Files that share what is costly: a shelf of runs and its screen, or batches that were played."""
ALONE = (
    "cli/test_commands.py::test_the_demo", "cli/test_commands.py::test_a_port_named_is_heard",
    "cli/test_sensor_check.py::test_an_ice", "recorder/test_process.py::test_ten_kills",
    "trust/test_kill", "watch/stages/set/immersion/test_bath_accuracy",
)  # fmt: skip
"""Long tests that share nothing with their file: each goes where there is room."""
WAITING = ("cli", "control", "dashboard", "faults", "ports", "recorder", "trust")
"""Rooms whose tests mostly wait: for ttys, processes and live pages."""
LONGEST_FIRST = (
    "dashboard/live/test_live_browser", "ended runs", "recorder/test_process.py::test_ten_kills",
    "faults/test_matrix", "watch/test_whole_batch", "dashboard/live/test_hands_browser",
    "dashboard/live/test_whole_batch", "trust/processes/test_takeover", "cli/test_sensor_check",
    "trust/test_kill.py::test_a_kill_at_any_moment_damages_nothing[both]",
    "dashboard/test_making_browser", "cli/test_commands.py::test_a_port_named_is_heard",
    "cli/test_commands.py::test_the_demo", "recorder/test_whole_batch", "science/fats/test_setting",
    "trust/test_kill", "watch/stages/set/immersion/test_bath_accuracy", "watch/test_virtual",
    "watch/test_second_hands",
)  # fmt: skip
"""Groups of tests that take longest; what is not named here follows in order of the files."""


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers(config: pytest.Config) -> int | None:
    """Return one worker more than cores, unless the environment says how many."""
    if "PYTEST_XDIST_AUTO_NUM_WORKERS" in os.environ:
        return None
    return (os.cpu_count() or 1) + 1


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """Say which tests stay together when several workers share them, and which go first."""
    from xdist.scheduler import LoadScopeScheduling

    class Rooms(LoadScopeScheduling):
        def _split_scope(self, nodeid: str) -> str:
            return _group(nodeid)

        def _assign_work_unit(self, node: Any) -> None:
            # `computes` holds for the third worker of each three.
            computes = int(node.gateway.id.removeprefix("gw")) % 3 == 2
            group = min(
                self.workqueue, key=lambda g: (_waits(self.workqueue[g]) == computes, _place(g))
            )
            self.workqueue.move_to_end(group, last=False)
            super()._assign_work_unit(node)

    return Rooms(config, log)


def _group(nodeid: str) -> str:
    """Return the name of the tests that a test stays with: of its file, of several, or its own."""
    name = nodeid.removeprefix("tests/")
    path = name.partition("::")[0].removesuffix(".py")
    return name if name.startswith(ALONE) else TOGETHER.get(path, path)


def _waits(tests: dict[str, bool]) -> bool:
    """Whether a group mostly waits: its tests are of such a room."""
    return next(iter(tests)).split("/")[1] in WAITING


def _place(group: str) -> int:
    """Return the place in the queue."""
    starts = enumerate(LONGEST_FIRST)
    return next((k for k, start in starts if group.startswith(start)), len(LONGEST_FIRST))


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """A Chromium; without one the test is skipped, and fails where CI is set."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        _no_browser("the playwright package is missing: pip install 'bainlog[test]'")
    if not Path(CHROMIUM).exists():
        _no_browser(
            f"no Chromium at {CHROMIUM}: install one (Debian: apt install "
            "chromium-headless-shell) or set BAINLOG_CHROMIUM to where it is"
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
        pause, end_s = threading.Event(), time.monotonic() + within_s
        while not (found := look()):
            if time.monotonic() > end_s:
                pytest.fail(f"did not come true within {within_s} s")
            pause.wait(0.02)
        return found

    return wait


@pytest.fixture
def little_work() -> Iterator[None]:
    """Fail a test that computes for more than a few seconds, however long it has to wait."""
    began_s = time.process_time()
    yield
    assert time.process_time() - began_s < WORK_S


@pytest.fixture
def fixtures() -> Path:
    """Return the folder of published numbers and other fixtures."""
    return Path(__file__).resolve().parents[1] / "fixtures"

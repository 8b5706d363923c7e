"""What every test may use: the Chromium that is there, and deadlines for waiting."""

import os
import shutil
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

DEADLINE_S = 30.0


@pytest.fixture(scope="session")
def chromium() -> str:
    """Path of a Chromium; skips with a reason without one, fails under CI=true."""
    for name in ("chromium", "chromium-browser", "google-chrome"):
        path = shutil.which(name)
        if path:
            return path
    reason = "no Chromium on this machine: install it, for example 'apt-get install chromium'"
    if os.environ.get("CI") == "true":
        pytest.fail(reason)
    pytest.skip(reason)


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

"""A few kills of each; ``python -m tests.trust.kill 200`` does many."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
FEW = {
    "compaction": 5,
    "notes": 5,
    "import": 4,
    "export": 5,
    "catalog": 6,
    "backup": 6,
    "both": 1,
    "screen": 1,
}


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
@pytest.mark.parametrize("victim", FEW)
def test_a_kill_at_any_moment_damages_nothing(victim):
    done = subprocess.run(
        [sys.executable, "-m", "tests.trust.kill", str(FEW[victim]), victim],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    assert "nothing wrong" in done.stdout

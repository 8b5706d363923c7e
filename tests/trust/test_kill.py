"""A few kills of each; ``python -m tests.trust.kill 200`` does many."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
FEW = {
    "compaction": 15,
    "notes": 15,
    "import": 6,
    "export": 9,
    "catalog": 10,
    "backup": 10,
    "both": 3,
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

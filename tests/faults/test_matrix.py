"""Every fault of a bench against the whole product: nothing saved is lost, nothing wrong shown."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
FEWEST_ROWS = 30


@pytest.mark.slow
@pytest.mark.timeout(300)
@pytest.mark.skipif(not hasattr(os, "openpty"), reason="this system has no pseudo-terminals")
def test_no_fault_loses_saved_data_or_shows_a_wrong_number_as_right():
    done = subprocess.run(
        [sys.executable, "-m", "tests.faults", "--json"],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    rows = json.loads(done.stdout) if done.stdout else pytest.fail(done.stderr)
    wrong = [(r["fault"], r["verdict"]) for r in rows if r["wrong"]]
    assert not wrong
    assert len(rows) >= FEWEST_ROWS
    assert done.returncode == 0, done.stderr
    if os.environ.get("CI") == "true":
        assert not [r["fault"] for r in rows if r["not_made"]]
    print(*(f"{r['fault']}: {r['seen']}" for r in rows), sep="\n")

"""Every fault of a bench against the whole product: nothing saved is lost, nothing wrong shown."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
WANTED = {
    "unplug, replug", "another device takes the name", "partial line", "garbage",
    "wrong baud rate", "merged lines, missing ends", "NUL before lines", "not UTF-8",
    "lines in slices", "endless line", "flood", "flood of 20000 numbered lines", "stuck value",
    "latched board repeats", "rate drop", "silence", "overload", "underload", "tare mid-run",
    "unit switched", "unit nobody knows", "open thermocouple", "probe touches ground",
    "probes exchanged at a replug", "reversed polarity", "cold junction drifts",
    "wrong extension wire", "clock step, suspend", "disk full", "kill -9, start again",
    "power cut (torn log)", "restart during a bath", "echo, banner, comments",
    "all of them, all through the batch",
}  # fmt: skip


@pytest.mark.slow
@pytest.mark.timeout(1200)
@pytest.mark.skipif(not hasattr(os, "openpty"), reason="this system has no pseudo-terminals")
def test_no_fault_loses_saved_data_or_shows_a_wrong_number_as_right():
    done = subprocess.run(
        [sys.executable, "-m", "tests.faults", "--json"],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    rows = json.loads(done.stdout) if done.stdout else pytest.fail(done.stderr)
    wrong = [(r["fault"], r["verdict"]) for r in rows if r["wrong"]]
    assert not wrong
    assert {r["fault"] for r in rows} == WANTED
    assert done.returncode == 0, done.stderr
    if os.environ.get("CI") == "true":
        assert not [r["fault"] for r in rows if r["not_made"]]
    print(*(f"{r['fault']}: {r['seen']}" for r in rows), sep="\n")

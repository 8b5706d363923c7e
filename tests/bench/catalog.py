"""A thousand runs in the data folder: how long the list takes, and why one of them failed.

The runs are the demo's examples, copied under other names. Processor time stands beside the time on
the clock, because the machine may be busy with other things.
"""

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import apsw

from dashboard.learn.portraits import Portraits
from dashboard.links import Links
from logger.cli.playing.examples import put_examples
from logger.cli.why import explained
from logger.store.folder.catalog import Catalog
from logger.store.folder.datafolder import DataFolder

RUNS = 1000


def fill(folder: DataFolder) -> None:
    """Copy the examples under other names until there are a thousand."""
    put_examples(folder)
    bodies = [(run_id, folder.run_path(run_id).read_bytes()) for run_id in folder.run_ids()]
    for number in range(RUNS - len(bodies)):
        run_id, body = bodies[number % len(bodies)]
        new_id = f"{run_id[:-4]}{number + 0x1000:04x}"
        path = folder.run_path(new_id)
        path.write_bytes(body)
        db = apsw.Connection(str(path))
        db.pragma("synchronous", "off")
        db.execute("UPDATE run SET run_id = ?", (new_id,))
        db.close()


def timed(what: str, call: Callable[[], Any]) -> str:
    """Return how long a call took, on the clock and of the processor."""
    clock_s, processor_s = time.perf_counter(), time.process_time()
    call()
    clock_s, processor_s = time.perf_counter() - clock_s, time.process_time() - processor_s
    return f"{what}: {clock_s * 1e3:.0f} ms, of processor time {processor_s * 1e3:.0f} ms"


def lines(folder: DataFolder) -> Iterator[str]:
    """Measure list and explanation."""
    catalog = Catalog(folder)
    yield timed(f"list of {RUNS} runs, made anew", catalog.runs)
    yield timed(f"list of {RUNS} runs, known (floor 300 ms)", catalog.runs)
    failed = [e.run_id for e in catalog.runs(outcome="rejected")]
    accepted = len(catalog.runs(outcome="accepted"))
    yield f"{accepted} accepted, {len(failed)} rejected"
    for run_id in failed[:2]:
        yield timed("explain (floor 2 s)", lambda run_id=run_id: explained(folder, run_id))
    portraits = Portraits(Links(folder.path))
    yield timed("Why on the page, the first", lambda: portraits.why(failed[0]))
    yield timed("Why on the page, the next", lambda: portraits.why(failed[1]))
    command = [Path(sys.executable).parent / "bainlog", "explain", failed[0], "--data", folder.path]
    start_s, before = time.perf_counter(), os.times()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    took_s, after = time.perf_counter() - start_s, os.times()
    of_it_s = sum(after[2:4]) - sum(before[2:4])
    yield f"'bainlog explain' from the prompt: {took_s:.1f} s, of processor time {of_it_s:.1f} s"


def main() -> None:
    """Print all."""
    with tempfile.TemporaryDirectory() as place:
        folder = DataFolder(place)
        fill(folder)
        for line in lines(folder):
            print(line, flush=True)

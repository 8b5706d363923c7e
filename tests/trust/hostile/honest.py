"""The honest client: watches the commits of a run file, asks for the state and opens a page.

In a process of its own, so that it measures the recorder and the screen and not the attack.
"""

import json
import subprocess
import sys
import threading
import time
import urllib.request
from collections.abc import Callable
from pathlib import Path

import apsw

from logger.control.client import Client

LOOK_S, ASK_S = 0.004, 0.1
PATIENCE_S = 120.0


class Worst:
    """The longest of some times since it was last asked."""

    def __init__(self) -> None:
        self.s = 0.0

    def add(self, took_s: float) -> None:
        self.s = max(self.s, took_s)

    def take(self) -> float:
        found, self.s = self.s, 0.0
        return found


def honest(folder: Path, run_id: str, url: str) -> None:
    """Watch the run file, ask the recorder and open a page; a line on stdin asks for the worst."""
    gaps, states, pages = Worst(), Worst(), Worst()
    ended, wrong = threading.Event(), [0]

    def commits() -> None:
        db = apsw.Connection(
            str(folder / "runs" / f"{run_id}.run"), flags=apsw.SQLITE_OPEN_READONLY
        )
        before, last_s = db.pragma("data_version"), time.monotonic()
        while not ended.wait(LOOK_S):
            now_s, version = time.monotonic(), db.pragma("data_version")
            gaps.add(now_s - last_s)
            if version != before:
                before, last_s = version, now_s
        db.close()

    def ask() -> None:
        with Client(folder) as client:
            while not ended.wait(ASK_S):
                states.add(_took(client.state, wrong))

    def look() -> None:
        while not ended.wait(ASK_S):
            pages.add(_took(lambda: urllib.request.urlopen(url, timeout=PATIENCE_S).read(), wrong))  # noqa: S310  # ours

    threads = [threading.Thread(target=act) for act in (commits, ask, look)]
    for thread in threads:
        thread.start()
    for _ in sys.stdin:
        found = {"gap_s": gaps.take(), "state_s": states.take(), "page_s": pages.take()}
        print(json.dumps({**found, "unanswered": wrong[0]}), flush=True)
    ended.set()
    for thread in threads:
        thread.join()


def _took(act: Callable[[], object], wrong: list[int]) -> float:
    began_s = time.monotonic()
    try:
        act()
    except Exception:  # noqa: BLE001 - whatever it is, it is no answer
        wrong[0] += 1
    return time.monotonic() - began_s


class Honest:
    """The honest client's process."""

    def __init__(self, folder: Path, run_id: str, url: str) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.trust.hostile.honest", str(folder), run_id, url],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip

    def worst(self) -> dict[str, float]:
        """Return the worst since the last call."""
        assert self._process.stdin
        assert self._process.stdout
        self._process.stdin.write("\n")
        self._process.stdin.flush()
        return dict(json.loads(self._process.stdout.readline()))

    def stop(self) -> None:
        self._process.communicate(timeout=60)


if __name__ == "__main__":
    honest(Path(sys.argv[1]), sys.argv[2], sys.argv[3])

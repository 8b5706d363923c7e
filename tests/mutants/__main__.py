"""Wrongs one place of the program at a time and looks whether a test notices.

``python -m tests.mutants --count 30 --seed 1`` works in a copy of the tree: it draws places in the
pure rooms, changes a comparison, a sign, an operator or a number there, and runs the tests that
call the function, then those of its folder. What no test notices has survived and is listed; a
survivor may be a change that makes no difference, which is for a person to say.
"""

import argparse
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.mutants import reach
from tests.mutants.changes import ROOT, Mutant, drawn
from tests.mutants.swapped import Collected, collect
from tests.mutants.trial import chosen, copied, loaded, noticed_by

ROOMS = ("science", "correct", "watch", "review")
ASKED = (
    "answers", "batch", "correct", "model", "recorder", "review", "science", "store", "virtual",
    "watch",
)  # fmt: skip
"""Rooms whose tests may notice."""


def main() -> None:
    """Draw, run, and print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--room", choices=ROOMS, action="append", help="[default: all]")
    parser.add_argument("--reach", type=Path, metavar="FILE",
                        help="keep here what each test calls, and take it from here")  # fmt: skip
    asked = parser.parse_args()
    rooms = asked.room or list(ROOMS)
    count = Count(rooms)
    with tempfile.TemporaryDirectory() as scratch:
        place = Path(scratch).resolve()
        copied(place)
        kept = (asked.reach or place / "reach.json").resolve()
        if not kept.is_file():
            measure(place, kept)
        reached = reach.read(kept)
        loaded()
        mutants = drawn(rooms, asked.count, asked.seed)
        sound = set[str]()

        def tried(collected: Collected) -> None:
            """Try each, without importing anything again where that can be."""
            for mutant in mutants:
                tests, codes = chosen(mutant, reached), collected.inside(mutant)
                if codes is None:
                    failed = noticed_by(mutant, place, tests, sound)
                else:
                    failed = collected.fails(codes, tests)
                    if failed and failed not in sound and collected.fails({}, [failed]):
                        raise RuntimeError(f"{failed} fails without a change")
                    sound.add(failed)
                count.add(mutant, failed, len(tests))

        collect(place, rooms, ASKED, tried)
    count.show(asked.seed)


class Count:
    """What was killed and what survived, by room."""

    def __init__(self, rooms: list[str]) -> None:
        self._killed = dict.fromkeys(rooms, 0)
        self._survived = dict.fromkeys(rooms, 0)

    def add(self, mutant: Mutant, failed: str, tests: int) -> None:
        """Count one and print it; `failed` names the test that noticed it, if one did."""
        room = mutant.path.relative_to(ROOT / "logger").parts[0]
        (self._killed if failed else self._survived)[room] += 1
        word = "killed  " if failed else "SURVIVED"
        print(word, mutant.says.replace("\n", " "), failed or f"({tests} tests)", flush=True)

    def show(self, seed: int) -> None:
        """Print the table."""
        print(f"\n{'room':10} killed  survived   (seed {seed})")
        for room, killed in self._killed.items():
            print(f"{room:10} {killed:6d}  {self._survived[room]:8d}")
        killed = sum(self._killed.values())
        print(f"{'all':10} {killed:6d} of {killed + sum(self._survived.values())}")


def measure(place: Path, target: Path) -> None:
    """Find what each test calls, in a process of its own."""
    subprocess.run(
        [sys.executable, "-m", "tests.mutants.reach", str(target),
         *(f"tests/{room}" for room in ASKED)],
        cwd=place,
        env={**os.environ, "PYTHONPATH": str(place), "PYTHONDONTWRITEBYTECODE": "1"},
        stdout=subprocess.DEVNULL,
        check=True,
    )  # fmt: skip


if __name__ == "__main__":
    main()

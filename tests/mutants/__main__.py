"""Wrongs one place of the program at a time and looks whether a test notices.

``python -m tests.mutants --count 30 --seed 1`` works in a copy of the tree: it draws places in the
pure rooms, changes a comparison, a sign, an operator or a number there, and runs the tests that
call the function, then those of its folder. What no test notices has survived and is listed; a
survivor may be a change that makes no difference, which is for a person to say.
"""

import argparse
import compileall
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.mutants import reach
from tests.mutants.changes import ROOT, Mutant, drawn
from tests.mutants.trial import chosen, copied, is_noticed, loaded

ROOMS = ("science", "correct", "watch", "review")
ASKED = ("batch", "correct", "model", "recorder", "review", "science", "store", "virtual", "watch")
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
    killed = dict.fromkeys(rooms, 0)
    survived: dict[str, list[Mutant]] = {room: [] for room in rooms}
    with tempfile.TemporaryDirectory() as scratch:
        place = Path(scratch).resolve()
        copied(place)
        compileall.compile_dir(place, quiet=1)
        kept = asked.reach or place / "reach.json"
        if not kept.is_file():
            measure(place, kept.resolve())
        reached = reach.read(kept)
        loaded()
        sound = set[str]()
        for mutant in drawn(rooms, asked.count, asked.seed):
            room = mutant.path.relative_to(ROOT / "logger").parts[0]
            tests = chosen(mutant, reached)
            noticed = is_noticed(mutant, place, tests, sound)
            killed[room] += noticed
            if not noticed:
                survived[room].append(mutant)
            word = "killed  " if noticed else "SURVIVED"
            print(word, mutant.says.replace("\n", " "), f"({len(tests)} tests)", flush=True)
    print(f"\n{'room':10} killed  survived   (seed {asked.seed})")
    for room in rooms:
        print(f"{room:10} {killed[room]:6d}  {len(survived[room]):8d}")
    whole = sum(killed.values()) + sum(map(len, survived.values()))
    print(f"{'all':10} {sum(killed.values()):6d} of {whole}")


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

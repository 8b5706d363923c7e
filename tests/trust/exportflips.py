"""Flips bits of exports and imports them: ``python -m tests.trust.exportflips N``.

Each of N seeded flips in each file of each kind of export must be refused in one line that names
the file, without --edited. With it the rest of the reader is on its own: it may take the file or
refuse it, but never break.
"""

import argparse
import collections
import gzip
import random
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from logger.model.errors import BainlogError
from logger.store.exchange.exporting import Kind, export
from logger.store.exchange.restoring import read_export
from logger.store.run.runfile import RunView

KEPT = Path(__file__).resolve().parents[2] / "fixtures" / "runs" / "format-3.run.gz"
EXPORTS: tuple[Kind, ...] = ("csv", "parquet", "json")
OUTCOMES = ("refused", "silent", "unnamed", "traceback")
WRONG = OUTCOMES[1:]


class Flip(NamedTuple):
    """One flipped bit and what came of it."""

    kind: str
    file: str
    at: int
    bit: int
    outcome: str
    why: str


def exports(folder: Path) -> dict[Kind, Path]:
    """Make an export of each kind of the kept run; return their places."""
    kept = folder / "kept.run"
    kept.write_bytes(gzip.decompress(KEPT.read_bytes()))
    view = RunView.open(kept)
    return {
        kind: export(view, kind, folder / ("roll.json" if kind == "json" else f"roll-{kind}"))
        for kind in EXPORTS
    }


def flips(place: Path, kind: str, count: int, seed: int) -> Iterator[Flip]:
    """Flip so many bits in each file of an export, one at a time, and take each back."""
    chance = random.Random(seed)
    for file in [place] if place.is_file() else sorted(place.iterdir()):
        whole = file.read_bytes()
        for _ in range(count):
            at, bit = chance.randrange(len(whole)), chance.randrange(8)
            data = bytearray(whole)
            data[at] ^= 1 << bit
            file.write_bytes(data)
            yield Flip(kind, file.name, at, bit, *_outcome(place, file))
        file.write_bytes(whole)


def _outcome(place: Path, file: Path) -> tuple[str, str]:
    try:
        read_export(place)
    except BainlogError as error:
        said = str(error)
        if "\n" in said or file.name not in said:
            return "unnamed", said
    except Exception as error:  # noqa: BLE001  # whatever it is, a user would see a traceback
        return "traceback", f"{type(error).__name__}: {error}"
    else:
        return "silent", ""
    try:
        read_export(place, edited=True)
    except BainlogError as error:
        return ("unnamed", str(error)) if "\n" in str(error) else ("refused", said)
    except Exception as error:  # noqa: BLE001  # the same
        return "traceback", f"{type(error).__name__}: {error} (with --edited)"
    return "refused", said


def main() -> None:
    """Print a table of what came of the flips; exit 1 where one was wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("count", type=int, help="flips in each file")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    wrong: list[Flip] = []
    print(f"{'file':28}" + "".join(f"{outcome:>11}" for outcome in OUTCOMES))
    with tempfile.TemporaryDirectory() as scratch:
        for kind, place in exports(Path(scratch)).items():
            counts: dict[str, collections.Counter[str]] = {}
            for flip in flips(place, kind, asked.count, asked.seed):
                counts.setdefault(flip.file, collections.Counter())[flip.outcome] += 1
                wrong += [flip] if flip.outcome in WRONG else []
            for file, found in counts.items():
                row = "".join(f"{found[outcome]:>11}" for outcome in OUTCOMES)
                print(f"{f'{kind}: {file}':28}{row}")
    for flip in wrong[:20]:
        print(*flip)
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()

"""What clumsy hands do to the numbers: late and forgotten *Next*, gaps, slow hands, ladles, tares.

Random but possible acts on the virtual bench, each judged by the whole engine. Each module of
`SECTIONS` gives its rows; ``python -m tests.bench.hands --sessions 40 --seed 50000`` makes a
smaller table of such seeds.
"""

import argparse
import importlib

SECTIONS = ("hands_bath", "hands_pours", "hands_weigh")
"""Modules of ``tests.bench.figures``, each with ``rows(sessions, first_seed) -> list[Row]``."""
SESSIONS, FIRST_SEED = 200, 40_000
"""Seeds from here on were not used in development."""


def main(sessions: int = SESSIONS, first_seed: int = FIRST_SEED) -> None:
    """Print the table.

    Parameters
    ----------
    sessions : int
        How many of each kind [1].
    first_seed : int
        Seed of the first [1].
    """
    print(__doc__)
    print(f"{'':58}{'wanted':>10}  measured")
    for name in SECTIONS:
        section = importlib.import_module(f"tests.bench.figures.{name}")
        for row in section.rows(sessions, first_seed):
            print(row.line(), flush=True)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(prog="python -m tests.bench.hands", description=__doc__)
    parser.add_argument("--sessions", type=int, default=SESSIONS)
    parser.add_argument("--seed", type=int, default=FIRST_SEED)
    asked = parser.parse_args()
    main(asked.sessions, asked.seed)

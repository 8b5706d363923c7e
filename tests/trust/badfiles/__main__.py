"""``python -m tests.trust.badfiles [WORD ...]``: the table of bad files; only those with a word."""

import sys
import tempfile
from pathlib import Path

from tests.trust.badfiles.cases import CASES, HUGE, STORED
from tests.trust.badfiles.trial import CPU_S, MEMORY_MB, tried


def main() -> None:
    """Print the table; end with 1 if a file did what it must not."""
    words = sys.argv[1:]
    print("| file | what the command said | exit | CPU s | MB | left behind |")
    print("|---|---|---|---|---|---|")
    bad = []
    for name, make in {**CASES, **HUGE}.items():
        if words and not any(word in name for word in words):
            continue
        with tempfile.TemporaryDirectory() as scratch:
            folder = Path(scratch)
            data = folder / "data"
            data.mkdir()
            command = make(folder)
            done = tried(name, command, data, folder / "cost")
        said = done.said.replace(scratch, "").replace("|", "/")
        left = ", ".join(done.left) or "nothing"
        shown = said if len(said) < 160 else f"{said[:157]}..."
        print(
            f"| {name} | {' '.join(shown.split())} | {done.exit} | {done.cpu_s:.1f} | "
            f"{done.memory_mb:.0f} | {left} |",
            flush=True,
        )
        if faults := done.faults((1, 2) if name in STORED else (2,)):
            bad.append(f"{name}: {'; '.join(faults)}")
    print(
        "\n".join(bad)
        or f"each: one line, exit 2 (a stored run: 1), {CPU_S:g} s, {MEMORY_MB:g} MB, nothing left"
    )
    sys.exit(bool(bad))


if __name__ == "__main__":
    main()

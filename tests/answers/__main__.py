"""Prints which answers changed; ``--write`` keeps today's, for git to show what became of them."""

import sys

from tests.answers.answers import ANSWERS, FOLDER, changed, file_of, today


def main(words: list[str]) -> None:
    """Compare each answer with the one that is kept, and keep it if asked."""
    FOLDER.mkdir(exist_ok=True)
    if "--write" in words:
        for path in FOLDER.glob("*.txt"):
            if path not in map(file_of, ANSWERS):
                path.unlink()
    for name in ANSWERS:
        path, now = file_of(name), today(name)
        kept = path.read_text(encoding="utf-8").splitlines() if path.exists() else []
        found = changed(kept, now)
        print(f"{name}: {len(now)} lines, {len(found)} otherwise")
        if "--write" in words:
            if found:
                path.write_text("\n".join(now) + "\n", encoding="utf-8")
        else:
            print("\n".join(f"  {line}" for line in found))


if __name__ == "__main__":
    main(sys.argv[1:])

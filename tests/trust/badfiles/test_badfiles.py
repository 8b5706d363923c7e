"""Each bad file gives one clear line and exit 2, costs little, and leaves nothing behind.

The reduced set: files that are quickly made. ``python -m tests.trust.badfiles`` tries all.
"""

import pytest

from tests.trust.badfiles.cases import CASES, HUGE, STORED
from tests.trust.badfiles.trial import tried

QUICK = (
    "CSV in UTF-16", "CSV with rows at -10^9 and 10^9 s",
    "CSV of line breaks, 50 MB", "CSV with a role in another unit", "/dev/zero", "a pipe",
    "/etc/passwd as CSV", "/etc/passwd as bench", "/dev/zero as sheet",
    "events with a piece that is no number", "bench with deep arrays",
    "sheet of 18,000 ingredients", "sheet of 18,000 wrong ingredients",
    "sheet with a mass of powers", "JSON, deep",
    "JSON of 150 MB of lists", "JSON, start is text", "JSON, lone surrogate in the note",
    "JSON, an outcome that is a table",
    "Parquet of 60 million rows", "run file, start is text",
    "run file, deep JSON as results", "run file of noise",
)  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("name", QUICK)
def test_a_bad_file_gives_one_line_and_costs_little(tmp_path, name):
    data = tmp_path / "data"
    data.mkdir()
    done = tried(name, (CASES | HUGE)[name](tmp_path), data, tmp_path / "cost")
    assert done.faults((1, 2) if name in STORED else (2,)) == [], done.said
    assert "root:" not in done.said, "a line of a file that is not the user's is shown"

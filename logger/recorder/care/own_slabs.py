"""Keeps a slab test in the data folder's ``slabs.toml``.

Tests of other days and other alginates stay as they are written. The new text is read back before
it replaces the old file in one step, so that a file is never left broken.
"""

from pathlib import Path

from logger.recorder.care.own_files import blocks_of, replace_text
from logger.science.gel.slabs import SlabTest, folded, slabs_from_toml


def save_slab(path: Path, test: SlabTest, table: str) -> None:
    """Put a slab test into the file, in the place of one of the same alginate and day.

    Parameters
    ----------
    path : Path
        ``slabs.toml``; made if missing.
    test : SlabTest
        Whose and when.
    table : str
        Its TOML table, as ``science.slabs.slab_as_toml`` writes it.

    Raises
    ------
    InputError
        If the file does not read.
    """
    old = path.read_text(encoding="utf-8") if path.is_file() else ""
    slabs_from_toml(old, path.name)
    kept = "".join(part for part in blocks_of(old) if not _is_test(part, test, path.name))
    new = (kept.rstrip() + "\n\n" if kept.strip() else "") + table
    replace_text(path, new, lambda text: slabs_from_toml(text, path.name))


def _is_test(part: str, test: SlabTest, name: str) -> bool:
    """Return whether a part of the file is a test of the same alginate and day."""
    found = slabs_from_toml(part, name).get(folded(test.alginate))
    return found is not None and found.tested == test.tested

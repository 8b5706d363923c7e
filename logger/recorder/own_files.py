"""Writes results back into the files that people write: a measured fat, a dated correction.

Only the table or the key concerned changes; comments and order stay. The new text is read back
before it replaces the old file in one step, so that a file is never left broken.
"""

import itertools
import os
import re
from collections.abc import Callable
from pathlib import Path

from logger.model.errors import InputError
from logger.model.files import bench_from_text
from logger.science.fats import builtin_fats, fats_from_toml

_HEAD = re.compile(r"^\s*\[", re.MULTILINE)


def save_fat(path: Path, key: str, table: str) -> None:
    """Put a fat into the user's fats file, in the place of an earlier one of the same key.

    Parameters
    ----------
    path : Path
        ``fats.toml``; made if missing.
    key : str
        Key of the fat.
    table : str
        Its TOML table, as ``science.fats.fat_as_toml`` writes it.

    Raises
    ------
    InputError
        If the file as it would be does not read.
    """
    old = path.read_text(encoding="utf-8") if path.is_file() else ""
    kept = "".join(block for block in _blocks(old) if not block.strip().startswith(f"[{key}]"))
    new = (kept.rstrip() + "\n\n" if kept.strip() else "") + table
    _replace(path, new, lambda text: fats_from_toml(text, path.name, builtin_fats()))


def save_correction(path: Path, channel_id: str, correction: str) -> None:
    """Put a dated correction into a channel of a bench file, in the place of an earlier one.

    Parameters
    ----------
    path : Path
        The bench file.
    channel_id : str
        Which channel.
    correction : str
        The inline table: ``{ offset = "-0.2 K", checked = 2026-11-02, by = "ice point" }``.

    Raises
    ------
    InputError
        If the channel is not written as a ``[[channel]]`` table of its own, or the file as it would
        be does not read.
    """
    key_id = re.compile(rf"""^\s*id\s*=\s*["']{re.escape(channel_id)}["']""", re.MULTILINE)
    key_correction = re.compile(r"^\s*correction\s*=.*\n?", re.MULTILINE)
    blocks = _blocks(path.read_text(encoding="utf-8"))
    for place, block in enumerate(blocks):
        if block.lstrip().startswith("[[channel]]") and key_id.search(block):
            bare = key_correction.sub("", block).rstrip()
            blocks[place] = f"{bare}\ncorrection = {correction}\n\n"
            _replace(path, "".join(blocks), lambda text: bench_from_text(text, path.name))
            return
    raise InputError(
        f"{path.name}: channel {channel_id!r}",
        "no [[channel]] table of its own",
        f"write it by hand: correction = {correction}",
    )


def _blocks(text: str) -> list[str]:
    """Cut a TOML text before each table head, with what stands before the first."""
    cuts = [0, *(m.start() for m in _HEAD.finditer(text) if m.start() > 0), len(text)]
    return [text[a:b] for a, b in itertools.pairwise(cuts) if b > a]


def _replace(path: Path, text: str, check: Callable[[str], object]) -> None:
    check(text)
    fresh = path.with_name(f".{path.name}.{os.getpid()}")
    fresh.write_text(text, encoding="utf-8")
    fresh.replace(path)

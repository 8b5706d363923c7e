"""Saves a batch sheet that was changed on the screen: its revision counts up, the old one is kept.

Thin I/O through the data folder. A run has its own frozen copy, so no run changes with it.
"""

import re
from dataclasses import dataclass

from logger.model.errors import InputError
from logger.model.files import sheet_from_text
from logger.recorder.care.own_files import blocks_of
from logger.store.folder import earlier
from logger.store.folder.datafolder import DataFolder

_REVISION = re.compile(r"^([ \t]*revision[ \t]*=[ \t]*)\d+", re.MULTILINE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Saved:
    """What was saved: the sheet's name, its revision and its text."""

    name: str
    revision: int
    text: str
    changed: bool


def save_sheet(folder: DataFolder, name: str, text: str, base: int | None) -> Saved:
    """Save a sheet under a name.

    Parameters
    ----------
    folder : DataFolder
        Where the sheets are.
    name : str
        Letters, digits, space, ``_`` and ``-``.
    text : str
        TOML of the sheet.
    base : int or None
        Revision that was opened for changing; None for a new sheet; 0 for one that did not read.

    Raises
    ------
    InputError
        If the text is no sheet, the name is none or taken, or another revision was saved meanwhile.
    StoreError
        If it cannot be written.
    """
    sheet = sheet_from_text(text, "the sheet")
    if not folder.sheet_path(name).is_file():
        folder.save_sheet(name, text)
        return Saved(name=name, revision=sheet.sheet.revision, text=text, changed=True)
    before = folder.sheet_text(name)
    old = _revision_of(before)
    if base is None:
        raise InputError(f"sheet {name!r}", "there is one already", "open it, or give another name")
    if base != old:
        raise InputError(
            f"sheet {name!r}",
            f"revision {old} was saved in the meantime",
            "open it again, or save this under another name",
        )
    if text == before:
        return Saved(name=name, revision=old, text=text, changed=False)
    revision = max(sheet.sheet.revision, old + 1)
    text = with_revision(text, revision)
    earlier.keep(folder, name, old)
    folder.save_sheet(name, text)
    return Saved(name=name, revision=revision, text=text, changed=True)


def with_revision(text: str, revision: int) -> str:
    """Return a sheet's text with another revision; comments and order stay.

    Raises
    ------
    InputError
        If the text has no ``[sheet]`` table of its own to write it into.
    """
    wanted = sheet_from_text(text, "the sheet")
    parts = blocks_of(text)
    for place, part in enumerate(parts):
        if part.lstrip().startswith("[sheet]"):
            fresh, found = _REVISION.subn(rf"\g<1>{revision}", part, count=1)
            if not found:
                head, _, rest = part.partition("[sheet]")
                tail, _, after = rest.partition("\n")
                fresh = f"{head}[sheet]{tail}\nrevision = {revision}\n{after}"
            parts[place] = fresh
    new = "".join(parts)
    head_table = wanted.sheet.model_copy(update={"revision": revision})
    if sheet_from_text(new, "the sheet") != wanted.model_copy(update={"sheet": head_table}):
        raise InputError("revision", "no place to put it", f"write it by hand: {revision}")
    return new


def _revision_of(text: str) -> int:
    try:
        return sheet_from_text(text, "the saved sheet").sheet.revision
    except InputError:
        return 0

"""Revisions of a batch sheet that were replaced: ``sheets/earlier/<name>.<revision>.sheet.toml``.

Thin I/O beside ``datafolder``, whose pattern checks the names: no path is taken from a request.
"""

from logger.model.errors import InputError, StoreError
from logger.store.folder.datafolder import SHEET_SUFFIX, DataFolder

ROOM = "earlier"
"""Folder in the folder of the sheets."""


def keep(folder: DataFolder, name: str, revision: int) -> None:
    """Keep the sheet as it is now under a revision; one that is kept already stays.

    Parameters
    ----------
    folder : DataFolder
        Where the sheets are.
    name : str
        Name of the sheet.
    revision : int
        Its number.

    Raises
    ------
    StoreError
        If it cannot be written.
    """
    path = folder.sheets / ROOM / f"{_stem(folder, name)}.{revision:d}{SHEET_SUFFIX}"
    if path.exists():
        return
    unborn = path.with_name(path.name + ".new")
    try:
        path.parent.mkdir(exist_ok=True)
        unborn.write_text(folder.sheet_text(name), "utf-8")
        unborn.replace(path)
    except OSError as cause:
        raise StoreError(f"{path}: cannot be written ({cause.strerror})") from cause


def revisions(folder: DataFolder, name: str) -> list[int]:
    """Return the kept revisions of a sheet, oldest first."""
    stem = _stem(folder, name)
    found = []
    for path in (folder.sheets / ROOM).glob(f"{stem}.*{SHEET_SUFFIX}"):
        number = path.name.removeprefix(f"{stem}.").removesuffix(SHEET_SUFFIX)
        if number.isascii() and number.isdigit():
            found.append(int(number))
    return sorted(found)


def text_of(folder: DataFolder, name: str, revision: int) -> str:
    """Return the text of a kept revision.

    Parameters
    ----------
    folder : DataFolder
        Where the sheets are.
    name : str
        Name of the sheet.
    revision : int
        Its number.

    Raises
    ------
    InputError
        If it was not kept, or does not read.
    """
    path = folder.sheets / ROOM / f"{_stem(folder, name)}.{revision:d}{SHEET_SUFFIX}"
    try:
        return path.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as cause:
        kept = ", ".join(str(r) for r in revisions(folder, name)) or "none"
        raise InputError(f"sheet {name!r}", f"no revision {revision}", f"kept: {kept}") from cause


def _stem(folder: DataFolder, name: str) -> str:
    return folder.sheet_path(name).name.removesuffix(SHEET_SUFFIX)

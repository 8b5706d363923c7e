"""The digests of an export: whether its files are still as they were written.

A JSON text of ours ends in its own digest: the last key is ``sha256``, over all bytes ahead of its
comma. The ``run.json`` of a folder also lists size and digest of the files beside it. Digests are
SHA-256 (FIPS 180-4), so ``sha256sum`` checks a file by hand; they find damage and edits, and are no
signature. Used by ``exporting`` and ``restoring``; a file is read in pieces.
"""

import hashlib
import json
import os
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any, BinaryIO

from logger.model.errors import InputError
from logger.store.exchange.jsonexport import MAX_BYTES, json_export
from logger.store.folder.given import opened

FORMAT_VERSION = 2
"""Of an export; version 1 had no digests."""
UNSEALED_VERSION = 1
_TAIL = re.compile(rb',\n "sha256": "([0-9a-f]{64})"\}\s*\Z')
_TAIL_BYTES = 100
_PIECES = 10_000
"""Pieces of JSON that are written at a time."""
_CHANGED = "not as it was exported: edited, or damaged on the way"
_AS_IT_IS = "export the run again, or add --edited to import it as it is"


def write_json(path: Path, data: dict[str, Any], indent: int | None = None) -> None:
    """Write a JSON object that ends in its own digest.

    Parameters
    ----------
    path : Path
        The new file.
    data : dict
        JSON values; not empty.
    indent : int or None
        As ``json.dump`` takes it.

    Raises
    ------
    OSError
        If it cannot be written.
    """
    encoder = json.JSONEncoder(indent=indent, ensure_ascii=False, allow_nan=False)
    sha, pieces = hashlib.sha256(), list[str]()
    with path.open("wb") as file:
        for piece in encoder.iterencode(data):
            if len(pieces) >= _PIECES:
                _put(file, sha, "".join(pieces))
                pieces.clear()
            pieces.append(piece)
        _put(file, sha, "".join(pieces).removesuffix("}"))
        file.write(f',\n "sha256": "{sha.hexdigest()}"}}'.encode())


def _put(file: BinaryIO, sha: "hashlib._Hash", text: str) -> None:
    data = text.encode()
    sha.update(data)
    file.write(data)


def digests_of(folder: Path, names: Iterable[str]) -> dict[str, dict[str, Any]]:
    """Return size [bytes] and digest of files, by name.

    Raises
    ------
    InputError
        If one is missing, larger than any export, or no ordinary file.
    """
    return {name: _digest_of(folder / name) for name in names}


def _digest_of(path: Path) -> dict[str, Any]:
    sha, size = hashlib.sha256(), 0
    with opened(path, MAX_BYTES) as file:
        try:
            while piece := file.read(1 << 18):
                sha.update(piece)
                size += len(piece)
        except OSError as cause:
            raise InputError(
                str(path), f"cannot be read ({cause.strerror})", "use a copy of it"
            ) from cause
    return {"bytes": size, "sha256": sha.hexdigest()}


def read_json(path: Path, *, edited: bool) -> tuple[dict[str, Any], bool]:
    """Return the JSON object of a file, and whether it is another than was exported.

    Parameters
    ----------
    path : Path
        The file.
    edited : bool
        Take it though it was changed.

    Raises
    ------
    InputError
        If it is no JSON object, or was changed and that is not to be taken.
    """
    wanted, covered = _sealed(path)
    changed = bool(wanted) and covered != wanted
    _require(path, edited or not changed)
    found = json_export(path)
    if not wanted and found.get("version") == FORMAT_VERSION:
        changed = True
        _require(path, edited)
    return found, changed


def _sealed(path: Path) -> tuple[str, str]:
    """Return the digest that a JSON file ends in, and that of what it covers; empty without."""
    with opened(path, MAX_BYTES) as file:
        try:
            size = file.seek(0, os.SEEK_END)
            begin = file.seek(max(0, size - _TAIL_BYTES))
            tail = _TAIL.search(file.read(_TAIL_BYTES))
            if tail is None:
                return "", ""
            sha, left = hashlib.sha256(), begin + tail.start()
            file.seek(0)
            while left and (piece := file.read(min(left, 1 << 18))):
                sha.update(piece)
                left -= len(piece)
        except OSError as cause:
            raise InputError(
                str(path), f"cannot be read ({cause.strerror})", "use a copy of it"
            ) from cause
    return tail[1].decode(), sha.hexdigest()


def _require(path: Path, holds: bool) -> None:
    if not holds:
        raise InputError(str(path), _CHANGED, _AS_IT_IS)


def changed_files(folder: Path, listed: Any, names: Iterable[str], *, edited: bool) -> list[str]:
    """Return which files of a folder are others than were exported.

    Parameters
    ----------
    folder : Path
        The export.
    listed : dict
        ``files`` of its ``run.json``.
    names : iterable of str
        The files that are going to be read.
    edited : bool
        Take them though they were changed.

    Raises
    ------
    InputError
        If one is missing, or was changed and that is not to be taken.
    """
    expected = listed if isinstance(listed, dict) else {}
    changed = []
    for name, found in digests_of(folder, names).items():
        if found == expected.get(name):
            continue
        _require(folder / name, edited)
        changed.append(name)
    return changed

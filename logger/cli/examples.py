"""The finished runs that come with the demo, so that there is something to look back at.

Batches of the virtual bench, good ones and one of each root cause, made by ``python -m
tests.examples`` and shipped packed. Only an empty data folder gets them.
"""

import contextlib
import tarfile
from importlib import resources
from pathlib import PurePath

from logger.model.errors import StoreError
from logger.store.folder.datafolder import DataFolder
from logger.store.run.format import SUFFIX

NAME = "examples.tar.xz"


def put_examples(folder: DataFolder) -> int:
    """Put the finished runs into a data folder that has no run yet; return how many.

    Raises
    ------
    StoreError
        If they cannot be written.
    """
    if folder.run_ids():
        return 0
    try:
        return _unpack(folder)
    except OSError as cause:
        raise StoreError(
            f"{folder.runs}: the example runs cannot be written ({cause.strerror}); "
            "make room, or give another --data"
        ) from cause


def _unpack(folder: DataFolder) -> int:
    count = 0
    pack = resources.files("logger.cli").joinpath(NAME)
    with pack.open("rb") as file, tarfile.open(fileobj=file, mode="r:xz") as tar:
        for member in tar:
            name = PurePath(member.name)
            content = tar.extractfile(member) if name.suffix == SUFFIX else None
            if content is None:
                continue
            path = folder.run_path(name.stem)
            unborn = path.with_name(path.name + ".new")
            with contextlib.closing(content):
                unborn.write_bytes(content.read())
            unborn.rename(path)
            count += 1
    return count

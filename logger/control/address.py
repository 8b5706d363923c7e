"""Where the recorder of a data folder can be reached: ``recorder.json``.

The recorder writes it, readable by its user alone; clients read it. Holds the port, the token and
who the recorder is. Removed at a clean stop; left behind by a kill, which clients notice because
nobody answers.
"""

import json
import os
from dataclasses import asdict, dataclass
from pathlib import Path

FILE_NAME = "recorder.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """Port and token of one recorder."""

    port: int
    token: str
    pid: int

    def write(self, folder: Path) -> None:
        """Write the file for the folder's user alone, in one step."""
        fresh = folder / f"{FILE_NAME}.{os.getpid()}"
        handle = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as out:
            json.dump(asdict(self), out)
        fresh.replace(folder / FILE_NAME)


def read_address(folder: Path) -> Address | None:
    """Return the address in a data folder, or None where there is none that reads."""
    try:
        found = json.loads((folder / FILE_NAME).read_text(encoding="utf-8"))
        return Address(port=int(found["port"]), token=str(found["token"]), pid=int(found["pid"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None


def remove_address(folder: Path, pid: int) -> None:
    """Remove the file if it is that of process `pid`."""
    address = read_address(folder)
    if address is not None and address.pid == pid:
        (folder / FILE_NAME).unlink(missing_ok=True)

"""Starts the virtual bench beside a screen that has nothing connected yet, at a press of a button.

The demo runs as a process of its own, in a data folder of its own, and ends with this program,
however that ends.
"""

import re
import subprocess
import sys
import threading
from pathlib import Path

from dashboard.tryout import Tried

_URL = re.compile(r"http://127\.0\.0\.1:\d+/")
_COMMAND = "from logger.cli.main import main; main()"
END_S = 30.0


class TryOut:
    """The virtual bench of one screen.

    Parameters
    ----------
    folder : Path
        Its data folder; never that of the person's own runs.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = threading.Lock()
        self._process: subprocess.Popen[str] | None = None
        self._listener: threading.Thread | None = None
        self._url = ""
        self._failed = ""

    def __call__(self, *, begin: bool) -> Tried:
        """Say how it stands, after beginning it where asked and not done yet."""
        with self._lock:
            if begin and self._process is None:
                self._process = subprocess.Popen(
                    [
                        sys.executable,
                        "-c",
                        _COMMAND,
                        "demo",
                        "--port",
                        "0",
                        "--no-browser",
                        "--with-parent",
                        "--data",
                        str(self._folder),
                    ],
                    stdin=subprocess.PIPE,  # closes with this process, however it ends
                    stdout=subprocess.PIPE,
                    stderr=subprocess.STDOUT,
                    text=True,
                )
                self._listener = threading.Thread(
                    target=self._listen, args=(self._process,), daemon=True
                )
                self._listener.start()
            busy = self._process is not None and not self._url and not self._failed
            return Tried(url=self._url, busy=busy, failed=self._failed)

    def stop(self) -> None:
        """End it; its run is saved."""
        with self._lock:
            process = self._process
        if process is None or self._listener is None:
            return
        process.terminate()
        try:
            process.wait(END_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        self._listener.join(1.0)

    def _listen(self, process: "subprocess.Popen[str]") -> None:
        last = ""
        if process.stdout is not None:
            with process.stdout:
                for line in process.stdout:
                    last = line.strip() or last
                    found = _URL.search(line)
                    if found is not None and not self._url:
                        self._url = found[0]
        process.wait()
        if process.stdin is not None:
            process.stdin.close()
        self._url = ""
        self._failed = f"The virtual bench has stopped. {last}".strip()

"""The demo and a screen alone as processes of their own, on the real recorder and virtual bench."""

import re
import signal
import subprocess
import sys
import threading
from pathlib import Path

ARTIFACTS = Path(__file__).resolve().parents[2] / ".artifacts"
START_S = 200.0
SPEED = "1.5"
"""The short batch then lasts eight minutes, longer than its tests need on a busy machine."""


class Demo:
    """The demo as a process of its own, and where its screen and data are."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        command = [
            sys.executable, "-c", "from logger.cli.main import main; main()", "demo", "--short",
            "--speed", SPEED, "--port", "0", "--no-browser", "--data", str(folder),
        ]  # fmt: skip
        self.process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
        )
        self.heard: list[str] = []
        self._ready = threading.Event()
        self.url = ""
        self._reader = threading.Thread(target=self._listen, daemon=True)
        self._reader.start()
        if not self._ready.wait(START_S) or not self.url:
            self.stop()
            raise AssertionError("the demo did not come up:\n" + "".join(self.heard))

    def _listen(self) -> None:
        for line in self.process.stdout or ():
            self.heard.append(line)
            found = re.search(r"http://127\.0\.0\.1:\d+/", line)
            if found and not self.url:
                self.url = found[0]
                self._ready.set()
        self._ready.set()

    def stop(self) -> None:
        self.process.send_signal(signal.SIGINT)
        try:
            self.process.wait(60)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        self._reader.join()
        ARTIFACTS.mkdir(exist_ok=True)
        (ARTIFACTS / "demo.log").write_text("".join(self.heard), encoding="utf-8")
        if self.process.stdout is not None:
            self.process.stdout.close()


class ScreenProcess:
    """A screen alone, without a recorder, as a process that can be stopped."""

    def __init__(self, folder: Path, port: int = 0) -> None:
        command = [
            sys.executable, "-u", "-m", "dashboard", "--data", str(folder), "--port", str(port),
        ]  # fmt: skip
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        self.url, self.port = "", 0
        for line in self.process.stdout or ():
            found = re.search(r"http://127\.0\.0\.1:(\d+)/", line)
            if found:
                self.url, self.port = found[0], int(found[1])
                break

    def stop(self) -> None:
        if self.process.poll() is None:
            self.process.terminate()
            self.process.wait(60)
        if self.process.stdout is not None:
            self.process.stdout.close()

"""A recording of 16 scales of 10 Hz on pseudo-terminals, and what is done to it meanwhile.

All over loopback, to a recorder and a screen of its own.
"""

import contextlib
import json
import socket
import tempfile
import threading
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from logger.control.address import Address, read_address
from logger.control.client import Client, GoneError
from logger.control.messages import encode
from logger.model.files import bench_from_text
from logger.recorder.launch import start_process
from logger.recorder.live.wiring import channel_records
from logger.store.run.records import RunHeader, StoredReading, WriteBatch
from logger.store.run.runfile import RunView, RunWriter
from logger.wire.shapes.shape import builtin_shapes
from tests.bench.recorder import PORTS, RATE_HZ, SHEET, Feeders, bench_of
from tests.dashboard.processes import ScreenProcess
from tests.trust.hostile import sent
from tests.trust.hostile.crowd import crowd
from tests.trust.hostile.honest import PATIENCE_S, Honest

OLD_RUN = "20261125-0913-a3f2"
CALLBACK = "_dash-update-component"


@dataclass
class Row:
    """What one kind of attack came to."""

    what: str
    sent: int
    answered: int
    worst: dict[str, float] = field(default_factory=dict)


class Attack:
    """Everything that is done to a recorder and a screen."""

    def __init__(self, folder: Path, screen: ScreenProcess) -> None:
        address = read_address(folder)
        assert isinstance(address, Address)
        self.folder, self.address, self.screen = folder, address, screen

    def say(self, line: bytes) -> bool:
        """Send a line on a connection of its own; return whether it was answered."""
        try:
            with socket.create_connection(("127.0.0.1", self.address.port), PATIENCE_S) as s:
                s.sendall(line)
                return s.makefile("rb").readline().endswith(b"\n")
        except ConnectionError:
            return False  # cut while it was still sending: refused as well

    def sheets(self, count: int) -> int:
        """Send sheets as runs to begin, to save, and as typed in a page; return the answers."""
        answered = 0
        for n, text in enumerate(sent.sheets(count)):
            if n % 3 == 2:
                answered += self.typed(text)
                continue
            about = {"sheet": text} if n % 3 else {"sheet": text, "name": "hostile"}
            do = "start" if n % 3 else "save_sheet"
            answered += self.say(encode({"token": self.address.token, "do": do, "data": about}))
        return answered

    def typed(self, text: str) -> bool:
        """Send a sheet as a page does while someone types."""
        body = {
            "output": "..sheet-wrongs.children...sheet-plan.children..",
            "outputs": [{"id": "sheet-wrongs", "property": "children"},
                        {"id": "sheet-plan", "property": "children"}],
            "inputs": [{"id": "sheet-typed", "property": "data", "value": text},
                       {"id": "choices", "property": "data", "value": None}],
            "state": [], "changedPropIds": ["sheet-typed.data"],
        }  # fmt: skip
        request = urllib.request.Request(  # noqa: S310 - loopback
            self.screen.url + CALLBACK,
            json.dumps(body).encode(),
            {"Content-Type": "application/json"},
        )
        try:
            with urllib.request.urlopen(request, timeout=PATIENCE_S) as answer:  # noqa: S310  # ours
                return answer.status in (200, 204)
        except urllib.error.HTTPError as cause:
            return cause.code < 500

    def commands(self, count: int) -> int:
        """Send commands; return how many were answered."""
        return sum(self.say(line) for line in sent.commands(count, self.address.token))

    @contextlib.contextmanager
    def held(self, count: int, port: int, start: bytes) -> Iterator[None]:
        """Hold connections open, each with a bit of a request, and let one byte a time trickle."""
        with contextlib.ExitStack() as stack:
            lines = []
            for _ in range(count):
                line = stack.enter_context(
                    socket.create_connection(("127.0.0.1", port), PATIENCE_S)
                )
                line.setblocking(False)
                lines.append(line)
            done = threading.Event()

            def trickle() -> None:
                left = start or b" "
                while not done.wait(0.1):
                    for line in lines:
                        with contextlib.suppress(OSError):
                            line.send(left)
                    left = b"x"

            thread = threading.Thread(target=trickle)
            thread.start()
            try:
                yield
            finally:
                done.set()
                thread.join()

    def owners_in_a_crowd(self, count: int) -> int:
        """Connect with the token in a crowd without one; return how many got in."""
        came = 0
        with crowd(self.address.port):
            for _ in range(count):
                with contextlib.suppress(GoneError), Client(self.folder) as client:
                    came += "pid" in client.ask("ping")
        return came

    def exports(self, count: int) -> int:
        """Ask for exports at once; return how many came."""
        came = []

        def ask(kind: str) -> None:
            url = f"{self.screen.url}runs/{OLD_RUN}/export/{kind}"
            with urllib.request.urlopen(url, timeout=PATIENCE_S) as answer:  # noqa: S310 - loopback
                came.append(len(answer.read()) > 1_000)

        kinds = ("csv", "json", "parquet")
        threads = [threading.Thread(target=ask, args=(kinds[n % 3],)) for n in range(count)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        return sum(came)


def old_run(folder: Path, readings: int) -> None:
    """Put an ended run of four scales into a data folder."""
    text = bench_of([f"/dev/none{n}" for n in range(4)])
    bench = bench_from_text(text, "bench")
    header = RunHeader(
        run_id=OLD_RUN, sheet_json='{"sheet": {"name": "Load"}}', sheet_text=SHEET,
        bench_json=bench.model_dump_json(by_alias=True), bench_text=text, started_utc_ns=10**18,
        channels=channel_records(bench, builtin_shapes()),
    )  # fmt: skip
    (folder / "runs").mkdir(parents=True, exist_ok=True)
    with RunWriter.create(folder / "runs" / f"{OLD_RUN}.run", header) as file:
        for start in range(0, readings, 10_000):
            numbers = range(start, min(readings, start + 10_000))
            rows = [
                StoredReading(f"c{c}", n * 10**8, n % 97 / 10) for n in numbers for c in range(4)
            ]
            file.write(WriteBatch(readings=rows))
            file.compact()
        file.finish(None, 10**18 + readings * 10**8)


def lost(folder: Path, run_id: str) -> tuple[int, int]:
    """Return how many readings are missing in a run, and how many there are."""
    missing = there = 0
    with RunView.open(folder / "runs" / f"{run_id}.run") as view:
        for n in range(PORTS):
            numbers = {round(v * 10) for v in view.readings(f"c{n}").value}
            missing += max(numbers) - min(numbers) + 1 - len(numbers)
            there += len(numbers)
    return missing, there


def run(
    *, sheets: int = 500, commands: int = 500, half_open: int = 100, idle: int = 64,
    exports: int = 10, owners: int = 200, held_s: float = 15.0, old: int = 60_000,
) -> tuple[list[Row], int, int]:  # fmt: skip
    """Record, attack, and return what came of it: rows, readings lost and readings there."""
    with tempfile.TemporaryDirectory() as scratch, Feeders(PORTS, RATE_HZ) as feeders:
        place, folder = Path(scratch), Path(scratch) / "data"
        (place / "bench.toml").write_text(bench_of(feeders.ports))
        (place / "load.sheet.toml").write_text(SHEET)
        folder.mkdir()
        old_run(folder, old)
        process = start_process(folder, place / "bench.toml", place / "load.sheet.toml")
        screen = ScreenProcess(folder)
        try:
            with Client(folder) as client:
                run_id = str(client.send("start")["run"])
            watch, attack = Honest(folder, run_id, screen.url), Attack(folder, screen)
            rest = threading.Event()
            rest.wait(3.0)
            watch.worst()
            rest.wait(held_s / 3)
            rows = [Row("nothing hostile", 0, 0, watch.worst())]
            for what, number, act in (
                ("sheets", sheets, lambda: attack.sheets(sheets)),
                ("commands", commands, lambda: attack.commands(commands)),
                ("exports at once", exports, lambda: attack.exports(exports)),
                (
                    "owners in a crowd of connections",
                    owners,
                    lambda: attack.owners_in_a_crowd(owners),
                ),
            ):
                rows.append(Row(what, number, act(), {}))
                rows[-1].worst = watch.worst()
            for what, count, port, start in (
                ("half-open requests, trickled", half_open, screen.port, b"GET / HTTP/1.1\r\nX: "),
                ("control connections without a word", idle, attack.address.port, b""),
            ):
                with attack.held(count, port, start):
                    rest.wait(held_s)
                    with Client(folder) as newcomer:
                        newcomer.state()
                    with urllib.request.urlopen(screen.url, timeout=PATIENCE_S) as page:  # noqa: S310  # ours
                        page.read()
                    rows.append(Row(what, count, 0, watch.worst()))
            watch.stop()
            with Client(folder) as client:
                client.send("run_end")
        finally:
            screen.stop()
            process.terminate()
            process.wait(60)
            if process.stderr is not None:
                process.stderr.close()
        return rows, *lost(folder, run_id)


def table(rows: list[Row], missing: int, there: int) -> str:
    """Return what came of it as a table."""
    lines = [f"{'':38}{'sent':>6}{'answered':>10}{'commits':>9}{'state':>8}{'page':>8}  [s]"]
    for row in rows:
        worst = row.worst
        lines.append(
            f"{row.what:38}{row.sent:6}{row.answered:10}{worst['gap_s']:9.2f}"
            f"{worst['state_s']:8.2f}{worst['page_s']:8.2f}"
        )
    unanswered = round(rows[-1].worst["unanswered"])
    lines.append(f"Readings lost: {missing} of {missing + there}. "
                 f"Questions of the honest client without an answer: {unanswered}.")  # fmt: skip
    lines.append("commits: longest time between two; state, page: its longest wait for an answer.")
    return "\n".join(lines)

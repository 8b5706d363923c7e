"""kill -9 at random moments of everything that writes: ``python -m tests.trust.kill [COUNT]``.

COUNT kills of each victim (200 by default; `test_kill.py` does a few). After each one: every file
opens and is sound, at most a second of readings is gone, and what was begun goes on, is marked as
cut off, or left no trace.
"""

import contextlib
import gzip
import itertools
import os
import random
import signal
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

from logger.control.client import Client
from logger.recorder.replay.intake import take_in
from logger.recorder.replay.recovery import close_interrupted, tidy_ended
from logger.science.fats.fatfile import builtin_fats
from logger.store.exchange.exporting import export
from logger.store.exchange.importing import read_csv
from logger.store.exchange.restoring import export_at, read_export
from logger.store.folder.backup import back_up, restore_folder
from logger.store.folder.catalog import Catalog
from logger.store.folder.datafolder import DataFolder
from logger.store.run.records import ChannelRecord, RunHeader, StoredReading, WriteBatch
from logger.store.run.runfile import RunView, RunWriter

ROOT = Path(__file__).resolve().parents[2]
BATCH = 40
Report = list[str]


def forked(work: Callable[[], None], for_s: float) -> None:
    """Let a child work and kill it after a while."""
    ready, said = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(ready)
            os.write(said, b"!")
            while True:
                work()
        finally:
            os._exit(1)
    os.close(said)
    os.read(ready, 1)
    os.close(ready)
    threading.Event().wait(for_s)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    if not os.WIFSIGNALED(status):
        raise AssertionError("the child ended by itself: it could not do its work")


def _header(run_id: str) -> RunHeader:
    bench = (
        '[[instrument]]\nid = "s"\nport = "/dev/x"\nshape = "flag-first comma weight"\n'
        '[[channel]]\nid = "m"\ninstrument = "s"\nfield = "mass"\nrole = "bath_scale"\n'
    )
    return RunHeader(
        run_id=run_id, sheet_json="", sheet_text='[sheet]\nname = "x"\n', bench_json="",
        bench_text=bench, started_utc_ns=1_795_600_000_000_000_000,
        channels=(ChannelRecord("m", "s", "mass", "bath_scale", "g"),),
    )  # fmt: skip


def compaction(count: int, folder: Path, chance: random.Random) -> Report:
    """A writer that does little but compact."""
    path = DataFolder(folder).run_path("20261125-0913-a3f2")
    RunWriter.create(path, _header(path.stem)).close()
    wrong: Report = []
    had = 0

    def work() -> None:
        with RunWriter.reopen(path) as file:
            with RunView.open(path) as view:
                number = view.count("m")
            while True:
                rows = [
                    StoredReading("m", (number + k) * 1_000_000, float(number + k))
                    for k in range(BATCH)
                ]
                file.write(WriteBatch(readings=rows))
                number += BATCH
                file.compact(force=True)

    for _ in range(count):
        forked(work, chance.uniform(0.01, 0.15))
        with RunView.open(path) as view:
            values = view.readings("m").value.tolist()
            if view.check() != "ok" or values != [float(n) for n in range(len(values))]:
                wrong.append("damaged or holes")
            if len(values) % BATCH or len(values) < had:
                wrong.append(f"{len(values)} readings after {had}")
            had = len(values)
    if not had:
        wrong.append("nothing was ever written")
    return wrong


def notes(count: int, folder: Path, chance: random.Random) -> Report:
    """Notes into an ended run: each is there whole, and none goes again."""
    path = DataFolder(folder).run_path("20261125-0913-a3f2")
    with RunWriter.create(path, _header(path.stem)) as file:
        file.write(WriteBatch(readings=[StoredReading("m", k * 1000, k / 2) for k in range(2_000)]))
        file.finish(None, 1_795_600_100_000_000_000)
    wrong: Report = []
    had = 0

    def work() -> None:
        with RunWriter.reopen(path) as file:
            file.add_note("tasted: " + "good " * 500)

    for _ in range(count):
        forked(work, chance.uniform(0.01, 0.1))
        with RunView.open(path) as view:
            texts = [e.text for e in view.events()]
            if view.check() != "ok" or view.count("m") != 2_000:
                wrong.append("damaged")
        if len(texts) < had or set(texts) - {"tasted: " + "good " * 500}:
            wrong.append(f"{len(texts)} notes after {had}")
        had = len(texts)
    tidy_ended(DataFolder(folder))
    left = [p.name for p in path.parent.iterdir() if not p.name.endswith((".lock", ".run"))]
    if left or not had:
        wrong.append(f"left behind: {left}, {had} notes")
    return wrong


def importing(count: int, folder: Path, chance: random.Random) -> Report:
    """A file that is being imported: whole, or marked as cut off, or not there."""
    lines = ["time_s,bath_scale [g]", *(f"{n / 10},{5000 + n % 7}" for n in range(6_000))]
    imported = read_csv("\n".join(lines) + "\n")
    sheet = '[sheet]\nname = "x"\n[[stage]]\nid = "skin"\nkind = "set"\n'
    place, wrong = DataFolder(folder), []

    def work() -> None:
        take_in(
            place, imported, sheet_text=sheet, sheet_name="x", bench_text=None,
            fats=builtin_fats(),
        )  # fmt: skip

    for _ in range(count):
        forked(work, chance.uniform(0.01, 0.6))
        for path in place.unfinished_runs():  # what the next recorder does when it starts
            close_interrupted(path, builtin_fats())
        tidy_ended(place)
        place.clear_unborn()
        for run_id in place.run_ids():
            with place.view(run_id) as view:
                whole = view.count("bath_scale") == 6_000
                if view.check() != "ok" or (view.status == "ended" and not whole):
                    wrong.append(f"{run_id}: {view.status}, {view.count('bath_scale')} readings")
            place.run_path(run_id).unlink()
        left = [p.name for p in place.runs.iterdir() if not p.name.endswith(".lock")]
        if left:
            wrong.append(f"left behind: {left}")
    return wrong


def exporting(count: int, folder: Path, chance: random.Random) -> Report:
    """An export under its name is whole."""
    place, wrong = DataFolder(folder), []
    path = place.run_path("20261125-0913-a3f2")
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(gzip.decompress((ROOT / "fixtures/runs/format-1.run.gz").read_bytes()))
    with RunView.open(path) as view:
        sizes = {c.id: view.count(c.id) for c in view.channels()}
    made = 0
    for number in range(count):
        kind = ("csv", "parquet", "json")[number % 3]
        targets = iter(range(1_000_000))

        def work(kind: str = kind, number: int = number, targets: Iterator[int] = targets) -> None:
            with RunView.open(path) as view:
                export(view, kind, folder / f"e{number}-{next(targets)}.{kind}")

        forked(work, chance.uniform(0.01, 0.3))
        for target in folder.glob(f"e{number}-*"):
            if target.name.endswith(".new"):
                if export_at(target) is not None and target.is_file():
                    wrong.append(f"{target.name} passes for an export")
                continue
            found = read_export(target)
            made += 1
            if {c: len(s) for c, s in found.readings.items()} != sizes:
                wrong.append(f"{target.name} is not whole")
    if not made and count > 5:
        wrong.append("nothing was ever exported")
    return wrong


def catalog(count: int, folder: Path, chance: random.Random) -> Report:
    """The catalog while it is made anew."""
    place, wrong = DataFolder(folder), []
    for number in range(12):
        path = place.run_path(f"20261125-09{number:02d}-a3f2")
        with RunWriter.create(path, _header(path.stem)) as file:
            rows = [StoredReading("m", k * 1_000_000, float(k)) for k in range(500)]
            file.write(WriteBatch(readings=rows))
            file.finish(None, 1_795_600_100_000_000_000)
    ids = place.run_ids()

    def work() -> None:
        place.catalog_file.unlink(missing_ok=True)
        Catalog(place).runs()

    for _ in range(count):
        forked(work, chance.uniform(0.005, 0.1))
        if sorted(e.run_id for e in Catalog(place).runs()) != ids:
            wrong.append("a run is missing from the list")
    return wrong


def copying(count: int, folder: Path, chance: random.Random) -> Report:
    """A copy of the data folder while a run is written: under its name it is whole."""
    place, wrong = DataFolder(folder / "data"), []
    path = place.run_path("20261125-0913-a3f2")
    ended = place.run_path("20261125-0914-a3f2")
    ended.write_bytes(gzip.decompress((ROOT / "fixtures/runs/format-1.run.gz").read_bytes()))
    made = 0
    with RunWriter.create(path, _header(path.stem)) as file:
        for number in range(count):
            rows = [StoredReading("m", (number * 500 + k) * 1000, float(k)) for k in range(500)]
            file.write(WriteBatch(readings=rows))
            targets, ending = iter(range(1_000_000)), (".zip", "")[number % 2]

            def work(
                number: int = number, targets: Iterator[int] = targets, ending: str = ending
            ) -> None:
                back_up(place, folder / f"c{number}-{next(targets)}{ending}")

            forked(work, chance.uniform(0.01, 0.3))
            for target in folder.glob(f"c{number}-*"):
                made += 1
                again = folder / f"again-{target.name}"
                if any(one.problem for one in restore_folder(target, again)):
                    wrong.append(f"{target.name} is damaged")
                with DataFolder(again).view(path.stem) as view:
                    if view.count("m") != 500 * (number + 1):
                        wrong.append(f"{target.name} is not whole")
    if not made and count > 5:
        wrong.append("no copy was ever made")
    return wrong


def processes(count: int, folder: Path, chance: random.Random, victims: str) -> Report:
    """The recorder, the screen, or both, in the middle of a run."""
    from tests.faults.scale import INTERVAL_S, MOST_LOST_S, kill, table, until

    wrong: Report = []
    lost: list[float] = []
    with table(folder) as at, Client(at.data) as client:
        recorder = at.recorder()
        screen, url = _screen(at.data)
        run_id = client.send("start")["run"]
        path = DataFolder(at.data).run_path(run_id)
        for _ in range(count):
            had = len(at.values(run_id))
            until(lambda n=had: len(at.values(run_id)) > n + 5, "readings")
            with urllib.request.urlopen(url, timeout=60) as page:  # noqa: S310 - our own page
                if page.status != 200:
                    wrong.append(f"the screen answers {page.status}")
            threading.Event().wait(chance.uniform(0.0, 0.3))
            if victims in ("screen", "both"):
                kill(screen)
            if victims in ("recorder", "both"):
                sent = at.scale.sent
                kill(recorder)
                lost.append((sent - at.values(run_id)[-1]) * INTERVAL_S)
                with RunView.open(path) as view:
                    if view.check() != "ok":
                        wrong.append("the file is damaged")
                recorder = at.recorder()
                if client.state().run.id != run_id:
                    wrong.append("the run does not go on")
            if victims in ("screen", "both"):
                screen, url = _screen(at.data)
        client.send("run_end")
        recorder.terminate()
        recorder.wait(60)
        kill(screen)
        values = at.values(run_id)
        holes = sum(b - a != 1.0 for a, b in itertools.pairwise(values))
        kills = count if victims != "screen" else 0
        if holes > kills or values != sorted(set(values)):
            wrong.append(f"{holes} holes after {kills} kills")
    if lost and max(lost) > MOST_LOST_S:
        wrong.append(f"{max(lost):.2f} s lost")
    if lost:
        print(f"    most lost before a kill: {max(lost):.2f} s")
    return wrong


def _screen(data: Path) -> "tuple[subprocess.Popen[bytes], str]":
    code = (
        "import sys; from pathlib import Path; from dashboard.serve import serve; "
        "serve(Path(sys.argv[1]), port=0, say=lambda t: print(t, flush=True))"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", code, str(data)], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    )
    assert process.stdout is not None
    line = process.stdout.readline().decode()
    process.stdout.close()
    with contextlib.suppress(ValueError):
        return process, line[line.index("http://") :].strip()
    raise AssertionError(f"the screen did not start: {line!r}")


VICTIMS: dict[str, Callable[[int, Path, random.Random], Report]] = {
    "compaction": compaction,
    "notes": notes,
    "import": importing,
    "export": exporting,
    "catalog": catalog,
    "backup": copying,
    "recorder": lambda n, folder, chance: processes(n, folder, chance, "recorder"),
    "screen": lambda n, folder, chance: processes(n, folder, chance, "screen"),
    "both": lambda n, folder, chance: processes(n, folder, chance, "both"),
}


def main() -> None:
    """Kill each victim so often and print what was wrong."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    failed = False
    for name in sys.argv[2:] or VICTIMS:
        began = time.monotonic()
        with tempfile.TemporaryDirectory() as scratch:
            wrong = VICTIMS[name](count, Path(scratch), random.Random(count))
        took_s = time.monotonic() - began
        print(f"{name}: {count} kills in {took_s:.0f} s: {wrong or 'nothing wrong'}", flush=True)
        failed |= bool(wrong)
    sys.exit(failed)


if __name__ == "__main__":
    main()

"""Flips bits of run files and looks at all a user reads: ``python -m tests.trust.flips N``.

Each of N seeded flips in each file is ``named`` (the damage is said, and nothing wrong is shown),
``harmless`` (everything reads as before), ``refused`` (one line) or wrong: ``silent``,
``traceback`` or ``hang``, of which there must be none.
"""

import argparse
import collections
import gzip
import json
import random
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from logger.model.errors import BainlogError
from logger.model.plainly import results_as_json, results_from
from logger.recorder.replay.shown import shown
from logger.science.fats.fatfile import builtin_fats
from logger.store.exchange.bundle import Bundle, bundle_of
from logger.store.exchange.exporting import export
from logger.store.folder.entries import describe
from logger.store.run.records import Anchor, StoredReading, WriteBatch, event_row
from logger.store.run.runfile import RunView, RunWriter
from logger.store.run.schema import log_path
from logger.store.run.tidying import leave_log

KEPT = Path(__file__).resolve().parents[2] / "fixtures" / "runs" / "format-2.run.gz"
CPU_LIMIT_S = 20.0
POINTS = (1, 7, 60, 4000)
WRONG = ("silent", "traceback", "hang")
KINDS = ("named", "harmless", "refused", *WRONG)
FATS = builtin_fats()


class HangError(BaseException):
    """A look at a file took more processor time than any look may."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Flip:
    """One flipped bit and what came of it."""

    file: str
    at: int
    bit: int
    kind: str
    why: str


# --- the files ---------------------------------------------------------------------------------


def made(folder: Path) -> dict[str, list[Path]]:
    """Make a run under way (with and without its log) and the ended run; return their files."""
    kept = folder / "kept.run"
    kept.write_bytes(gzip.decompress(KEPT.read_bytes()))
    bundle = bundle_of(RunView.open(kept))
    files: dict[str, list[Path]] = {}
    path = folder / "live" / f"{bundle.header.run_id}.run"
    path.parent.mkdir()
    with RunWriter.create(path, bundle.header) as writer:
        _record(writer, bundle)
        for name, folded in (("live, with its log", False), ("live, log folded in", True)):
            if folded:
                leave_log(writer._db)
            target = folder / name / path.name
            target.parent.mkdir()
            for file in (path, log_path(path)):
                if file.exists() and file.stat().st_size:
                    shutil.copy(file, target.with_name(file.name))
            writer._db.pragma("journal_mode", "wal")
            files[name] = sorted(target.parent.iterdir())
        writer.finish(RunView.open(kept).results(), bundle.ended_utc_ns or 1)
    files["ended"] = [path]
    return files


def _record(writer: RunWriter, bundle: Bundle) -> None:
    """Write a run a second at a time; the first two thirds are compacted."""
    end_ns = max(int(series.t_ns[-1]) for series in bundle.readings.values() if len(series))
    step_ns, saved = 1_000_000_000, False
    said = [event for event in bundle.events if event.kind != "outcome"]
    for start_ns in range(0, end_ns + step_ns, step_ns):
        rows: list[StoredReading] = []
        for channel, series in bundle.readings.items():
            inside = (series.t_ns >= start_ns) & (series.t_ns < start_ns + step_ns)
            for at in np.flatnonzero(inside).tolist():
                value = float(series.value[at])
                rows.append(
                    StoredReading(
                        channel,
                        int(series.t_ns[at]),
                        None if np.isnan(value) else value,
                        int(series.flags[at]),
                    )
                )
        writer.write(
            WriteBatch(
                readings=rows,
                chunks=[c for c in bundle.chunks if start_ns <= c.t_ns < start_ns + step_ns],
                events=[e for e in said if start_ns <= e.t_ns < start_ns + step_ns],
                anchors=[Anchor("b00t", start_ns, start_ns, start_ns, "UTC", start_ns)],
                counters=bundle.counters,
            )
        )
        if start_ns * 3 > end_ns * 2 and not saved:
            saved = True
            writer.compact(force=True)
        elif start_ns % (7 * step_ns) == 0 and not saved:
            writer.compact(force=True)
    writer.set_outcome("rejected", ["skin burst"], "burst in the pan")
    writer.set_results(_results(bundle))


def _results(bundle: Bundle) -> Any:
    return results_from(bundle.results or {})


# --- what a user reads -------------------------------------------------------------------------


def _series(view: RunView, channel: str) -> list[tuple[Any, ...]]:
    series = view.readings(channel)
    return [
        (int(t), repr(float(v)), int(f))
        for t, v, f in zip(series.t_ns, series.value, series.flags, strict=True)
    ]


def _overview(view: RunView, channel: str) -> list[tuple[Any, ...]]:
    found = []
    for points in POINTS:
        made = view.overview(channel, points=points)
        empty = np.isnan(made.low)
        found.append(
            (
                int((made.n + made.n_bad).sum()),
                None if empty.all() else float(made.low[~empty].min()),
                None if empty.all() else float(made.high[~empty].max()),
                made.mean.tobytes(),
                made.t_ns.tobytes(),
            )
        )
    return found


def questions(view: RunView, channels: list[str]) -> dict[str, Callable[[], Any]]:
    """Return everything that is asked of a run file, by name."""
    asked: dict[str, Callable[[], Any]] = {
        "header": lambda: {
            k: v for k, v in asdict(view.header).items() if k not in ("channels", *TEXTS)
        },
        **{text: lambda text=text: getattr(view.header, text) for text in TEXTS},
        "channels": lambda: [tuple(c) for c in view.channels()],
        "sheet": lambda: view.sheet().model_dump(),
        "bench": lambda: view.bench().model_dump(),
        "events": lambda: [json.dumps(event_row(e)) for e in view.events()],
        "last event": lambda: view.last_seq,
        "results": lambda: (
            None if (r := view.results()) is None else json.dumps(results_as_json(r))
        ),
        "outcome": lambda: asdict(view.outcome()),
        "anchors": lambda: [tuple(a) for a in view.anchors()],
        "counters": view.counters,
        "chunks": lambda: [tuple(c) for c in view.chunks()],
        "ended": lambda: view.ended_utc_ns,
        "status": lambda: view.status,
        "duration": lambda: view.duration_ns,
    }
    for channel in channels:
        asked |= {
            f"readings {channel}": lambda c=channel: _series(view, c),
            f"overview {channel}": lambda c=channel: _overview(view, c),
            f"last {channel}": lambda c=channel: view.last(c),
            f"count {channel}": lambda c=channel: view.count(c),
            f"derived {channel}": lambda c=channel: (
                None if (x := view.without_lag(c)) is None else x.tobytes()
            ),
        }
    return asked


TEXTS = ("sheet_json", "sheet_text", "bench_json", "bench_text", "shapes_text")


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What a file says: each answer, or the one line that refuses it."""

    damage: list[str]
    strict: dict[str, Any]
    tolerant: dict[str, Any]
    whole: dict[str, Any]
    """Of the commands: show, export, the list of runs."""


class Refused(str):
    """One line in place of an answer."""


def _answer(question: Callable[[], Any]) -> Any:
    try:
        return question()
    except BainlogError as error:
        return Refused(error)


def see(path: Path, channels: list[str]) -> Seen | Refused:
    """Return all that a file says, or the line that refuses the file."""
    try:
        view = RunView.open(path, tolerant=True)
        with view.together():
            damage = [d.part for d in view.damage()]
            tolerant = {k: _answer(q) for k, q in questions(view, channels).items()}
            whole = {
                "show": _answer(lambda: shown(view, FATS)),
                "list": _answer(lambda: asdict(describe(view, path.stem))),
            }
    except BainlogError as error:
        return Refused(error)
    strict_view = RunView(path)
    with strict_view.together():
        strict = {k: _answer(q) for k, q in questions(strict_view, channels).items()}
        target = path.with_name("out.json")
        target.unlink(missing_ok=True)
        whole["export"] = _answer(lambda: export(strict_view, "json", target).read_text("utf-8"))
    return Seen(damage=damage, strict=strict, tolerant=tolerant, whole=whole)


# --- judging -----------------------------------------------------------------------------------


def judged(before: Seen, after: Seen | Refused) -> tuple[str, str]:
    """Return what came of a flip, and why where it is wrong."""
    if isinstance(after, Refused):
        return ("silent", f"{after!r}") if "\n" in after else ("refused", str(after))
    lines = [
        a for d in (after.strict, after.tolerant, after.whole) for a in d.values()
        if isinstance(a, Refused)
    ]  # fmt: skip
    if any("\n" in line for line in lines):
        return "silent", "more than one line"
    for name, answer in after.strict.items():
        if not isinstance(answer, Refused) and not _same(name, answer, before.strict[name]):
            if "log" in after.damage and _left_out(name, answer, before.strict[name], after.strict):
                continue
            return "silent", f"strict {name}"
    said = bool(after.damage or lines)
    for name, answer in after.tolerant.items():
        if isinstance(answer, Refused) or _same(name, answer, before.tolerant[name]):
            continue
        if not after.damage or not _left_out(name, answer, before.tolerant[name], after.tolerant):
            return "silent", f"tolerant {name}"
    for name, answer in after.whole.items():
        if isinstance(answer, Refused) or answer == before.whole[name]:
            continue
        if name == "export" or not after.damage or not answer.get("damage"):
            return "silent", name
    return ("named", ", ".join(sorted(set(after.damage)))) if said else ("harmless", "")


def _same(name: str, answer: Any, before: Any) -> bool:
    if not name.startswith("overview"):
        return bool(answer == before)
    # A level that is made again from the readings rounds its means otherwise.
    return all(
        one[:3] == other[:3]
        and one[4] == other[4]
        and np.allclose(
            np.frombuffer(one[3]), np.frombuffer(other[3]), rtol=1e-12, atol=1e-12, equal_nan=True
        )
        for one, other in zip(answer, before, strict=True)
    )


def _left_out(name: str, answer: Any, before: Any, after: dict[str, Any]) -> bool:
    """Return whether an answer is what was written, less what is left out."""
    subject = name.split()[0]
    of_channel = name.removeprefix(subject)
    if name == "last event" or subject in ("count", "duration"):
        return 0 <= answer <= before
    if subject == "overview":
        rows = after["readings" + of_channel]
        values = [float(v) for _, v, _ in rows if v != "nan"]
        wanted = (len(rows), min(values, default=None), max(values, default=None))
        return all(tuple(one[:3]) == wanted for one in answer)
    if subject == "last":
        rows = after["readings" + of_channel]
        return answer is None or (answer[0], repr(_number(answer[1])), answer[2]) in rows
    if subject in ("readings", "events", "chunks", "anchors", "channels"):
        remaining = iter(before)
        return all(any(row == other for other in remaining) for row in answer)
    if subject == "counters":
        return set(answer) <= set(before)
    if subject == "outcome":
        return answer["outcome"] is None
    return answer in ("", None)


def _number(value: float | None) -> float:
    return float("nan") if value is None else value


@contextmanager
def cpu_limit(limit_s: float) -> Iterator[None]:
    """Raise `HangError` after so much processor time [s]."""

    def stop(*_: object) -> None:
        raise HangError

    old = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, limit_s)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, old)


def flips(files: list[Path], name: str, count: int, seed: int) -> Iterator[Flip]:
    """Yield what comes of so many flips, each in fresh copies of the files."""
    chance = random.Random(seed)
    whole = {file: file.read_bytes() for file in files}
    sizes = [len(data) for data in whole.values()]
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        main = folder / next(file.name for file in files if file.suffix == ".run")
        _lay(folder, whole)
        channels = [c.id for c in RunView.open(main).channels()]
        before = see(main, channels)
        if isinstance(before, Refused) or before.damage:
            raise SystemExit(f"{name}: damaged before any flip: {before}")
        for _ in range(count):
            file = chance.choices(files, sizes)[0]
            at, bit = chance.randrange(len(whole[file])), chance.randrange(8)
            data = bytearray(whole[file])
            data[at] ^= 1 << bit
            _lay(folder, whole | {file: bytes(data)})
            kind, why = _outcome(main, channels, before)
            yield Flip(file=file.name, at=at, bit=bit, kind=kind, why=why)


def _lay(folder: Path, whole: dict[Path, bytes]) -> None:
    for old in folder.iterdir():
        old.unlink()
    for file, data in whole.items():
        (folder / file.name).write_bytes(data)


def _outcome(main: Path, channels: list[str], before: Seen) -> tuple[str, str]:
    try:
        with cpu_limit(CPU_LIMIT_S):
            return judged(before, see(main, channels))
    except HangError:
        return "hang", f"more than {CPU_LIMIT_S:.0f} s of processor time"
    except Exception as error:  # noqa: BLE001  # whatever it is, a user would see a traceback
        return "traceback", f"{type(error).__name__}: {error}"


def main() -> None:
    """Print a table of what came of the flips; exit 1 where one was wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("count", type=int, help="flips in each file")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--tell", action="store_true", help="print each flip")
    asked = parser.parse_args()
    wrong: list[tuple[str, Flip]] = []
    print(f"{'file':22}{'bytes':>9}" + "".join(f"{kind:>11}" for kind in KINDS) + f"{'ms each':>9}")
    with tempfile.TemporaryDirectory() as scratch:
        for name, files in made(Path(scratch)).items():
            begun = time.process_time()
            found = list(flips(files, name, asked.count, asked.seed))
            each_ms = (time.process_time() - begun) / max(len(found), 1) * 1e3
            counted = collections.Counter(flip.kind for flip in found)
            size = sum(file.stat().st_size for file in files)
            cells = "".join(f"{counted[kind]:>11}" for kind in KINDS)
            print(f"{name:22}{size:>9}{cells}{each_ms:>9.0f}", flush=True)
            if asked.tell:
                for flip in found:
                    print("   ", flip.kind, flip.file, flip.at, flip.bit, flip.why[:160])
            wrong += [(name, flip) for flip in found if flip.kind in WRONG]
    for name, flip in wrong[:40]:
        print(f"{flip.kind}: {name}, {flip.file}, byte {flip.at}, bit {flip.bit}: {flip.why[:300]}")
    sys.exit(bool(wrong))


if __name__ == "__main__":
    main()

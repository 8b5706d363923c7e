"""Makes the finished runs that come with the demo anew: ``python -m tests.examples``.

Batches of the virtual bench, judged by the engine at full rate as live ones are; then one reading
in two seconds of the scales and one in four of the probes are kept, and of the bowl scale all while
the fat goes in. No faults are put in. Each file carries a note that says so.
"""

import datetime
import io
import json
import lzma
import tarfile
import tempfile
from importlib.metadata import version
from pathlib import Path

import numpy as np

import logger.cli
from logger.cli.playing.examples import NAME
from logger.correct.channel import Corrector
from logger.model.event import Event
from logger.model.finding import Results
from logger.recorder.live.pipeline import Pipeline
from logger.science.fats.fatfile import builtin_fats
from logger.store.folder.datafolder import DataFolder
from logger.store.run.records import ChannelRecord, RunHeader, StoredReading, WriteBatch
from logger.store.run.runfile import RunWriter
from logger.virtual.batch.causes import CAUSES
from logger.virtual.lines.bench_file import sheet_text
from logger.virtual.readings.simulate import SimulatedRun, simulate
from logger.virtual.readings.traces import SCALE_CHANNELS
from tests.bench.figures.virtual_runs import corrected_traces, files_of, readings_of
from tests.virtual.operator_events import operator_events

FIRST_SEED = 700
GOOD, GOOD_SHORT = 8, 4
FIRST_DAY = datetime.datetime(2025, 9, 1, 8, 40, tzinfo=datetime.UTC)
SCALES_EACH_S, PROBES_EACH_S = 2.0, 4.0
AROUND_POUR_S = 10.0
NOTE = (
    "Example: a batch of the virtual bench. It was judged from all its readings. Of these, one "
    "every 4 s from the probes and one every 2 s from the scales are kept."
)
TARGET = Path(logger.cli.__file__).with_name(NAME)


def batches() -> list[tuple[tuple[str, ...], bool]]:
    """Return cause and length of each batch in the order of the days: good ones in between."""
    causes: list[tuple[str, ...]] = [(name,) for name in CAUSES]
    for number in range(GOOD):
        causes.insert(3 * number, ())
    return [(c, False) for c in causes] + [((), True)] * GOOD_SHORT


def kept(run: SimulatedRun) -> list[StoredReading]:
    """Thin the readings out, in time order."""
    found = []
    pour = run.script.pour
    for channel, trace in run.channels.items():
        each_s = SCALES_EACH_S if channel in SCALE_CHANNELS else PROBES_EACH_S
        step = max(1, round(each_s / float(np.median(np.diff(trace.t_s)))))
        keep = np.arange(trace.t_s.size) % step == 0
        if channel == "bowl_scale" and pour is not None:
            inside = trace.t_s > pour.start_s - AROUND_POUR_S
            keep |= inside & (trace.t_s < pour.end_s + AROUND_POUR_S)
        found += [
            StoredReading(channel, t_ns, value if value == value else None, flags)
            for t_ns, value, flags in zip(
                np.round(trace.t_s[keep] * 1e9).astype(np.int64).tolist(),
                trace.value[keep].tolist(), trace.flags[keep].tolist(), strict=True,
            )
        ]  # fmt: skip
    return sorted((r for r in found if r.t_ns <= end_ns(run)), key=lambda r: r.t_ns)


def day_of(number: int) -> datetime.datetime:
    """Return when a batch began."""
    return FIRST_DAY + datetime.timedelta(days=number, minutes=17 * (number % 7))


def judge(number: int, run: SimulatedRun) -> tuple[list[Event], Results]:
    """Return what the engine says of a batch at full rate."""
    day = day_of(number).date()
    sheet, bench = files_of(run, day)
    correctors = {c.id: Corrector(c, day) for c in bench.channel}
    pipeline = Pipeline(sheet, bench, correctors, builtin_fats(), hold_back_ns=0)
    pipeline.offer([*spoken(run), *readings_of(corrected_traces(run, bench, day))])
    return pipeline.finish(end_ns(run))


def spoken(run: SimulatedRun) -> list[Event]:
    """Return what the cook says up to the end."""
    return [e for e in operator_events(run) if e.kind != "outcome"]


def end_ns(run: SimulatedRun) -> int:
    """Return how long a batch is [ns]."""
    return round(run.truth["end_s"] * 1e9)


def write(
    folder: DataFolder, number: int, run: SimulatedRun, said: list[Event], results: Results
) -> str:
    """Write the run file of a batch and return its id."""
    start = day_of(number)
    started_utc_ns = round(start.timestamp()) * 1_000_000_000
    run_id = f"{start:%Y%m%d-%H%M}-{FIRST_SEED + number:04x}"
    sheet, bench = files_of(run, start.date())
    header = RunHeader(
        run_id=run_id, sheet_json=sheet.model_dump_json(by_alias=True), sheet_text=sheet_text(run),
        bench_json=bench.model_dump_json(by_alias=True), bench_text="", zone="UTC",
        started_utc_ns=started_utc_ns, origin="import", version=version("bainlog"),
        channels=tuple(
            ChannelRecord(c.id, c.instrument, c.field, c.role, c.unit) for c in bench.channel
        ),
    )  # fmt: skip
    file = RunWriter.create(folder.run_path(run_id), header)
    note = Event(t_ns=0, kind="note", source="operator", text=NOTE)
    events = sorted([note, *spoken(run), *said], key=lambda e: e.t_ns)
    file.write(WriteBatch(readings=kept(run), events=events))
    results.notes.insert(0, {"t_s": 0.0, "text": NOTE, "stage": None})
    file.set_outcome(run.truth["outcome"], tuple(run.truth["defects"]))
    file.finish(results, started_utc_ns + end_ns(run))
    return run_id


def pack(files: dict[str, bytes]) -> bytes:
    """Return a tar.xz of files by name, the same for the same files."""
    packed = io.BytesIO()
    with tarfile.open(fileobj=packed, mode="w", format=tarfile.USTAR_FORMAT) as tar:
        for name, content in files.items():
            member = tarfile.TarInfo(name)
            member.size = len(content)
            tar.addfile(member, io.BytesIO(content))
    return lzma.compress(packed.getvalue(), preset=9 | lzma.PRESET_EXTREME)


def main() -> None:
    """Make all batches and pack their files, with the truth beside them."""
    truth = {}
    with tempfile.TemporaryDirectory() as scratch:
        folder = DataFolder(scratch)
        for number, (causes, short) in enumerate(batches()):
            run = simulate(FIRST_SEED + number, causes, short=short)
            run_id = write(folder, number, run, *judge(number, run))
            truth[run_id] = {"causes": list(causes), "defects": run.truth["defects"]}
            print(run_id, causes, run.truth["defects"], folder.run_path(run_id).stat().st_size)
        files = {folder.run_path(r).name: folder.run_path(r).read_bytes() for r in truth}
    files["truth.json"] = (json.dumps(truth, indent=1) + "\n").encode()
    TARGET.write_bytes(pack(files))
    print(TARGET, TARGET.stat().st_size)


if __name__ == "__main__":
    main()

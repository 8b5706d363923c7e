"""A run file made for the pages of past runs."""

import datetime
from pathlib import Path

import numpy as np

from logger.model.bench import Bench, bench_of_roles
from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.model.finding import Finding, Results
from logger.model.rows import ImmersionRow, StageRow
from logger.store.run.records import ChannelRecord, RunHeader, StoredReading, WriteBatch
from logger.store.run.runfile import RunWriter

SHEET = """
[sheet]
name = "Smoked beet and barley roll"
revision = 4
[[ingredient]]
name = "cocoa butter"
phase = "fat"
fat = "cocoa_butter"
mass = "180 g"
lot = "CB-0412"
[[stage]]
id = "warm"
kind = "heat"
title = "Warm both"
fat = { low = "44 degC", high = "58 degC" }
"""
START_NS = int(datetime.datetime(2026, 11, 25, 9, 13, tzinfo=datetime.UTC).timestamp()) * 10**9


def write_run(
    folder: Path, run_id: str, seconds: int = 120, *, hz: int = 4, slope: float = 1.0
) -> None:
    """Write an ended run: fat warming or cooling with one spike, bath scale with a gap."""
    bench: Bench = bench_of_roles(["fat", "bath_scale"])
    header = RunHeader(
        run_id=run_id,
        sheet_json=sheet_from_text(SHEET, "test").model_dump_json(by_alias=True),
        sheet_text=SHEET,
        bench_json=bench.model_dump_json(by_alias=True),
        bench_text="",
        started_utc_ns=START_NS,
        channels=(
            ChannelRecord("fat", "import", "fat", "fat", "degC"),
            ChannelRecord("bath_scale", "import", "bath_scale", "bath_scale", "g"),
        ),
    )
    t_ns = np.arange(0, seconds * 10**9, 10**9 // hz)
    fat = 50.0 + slope * (0.001 * np.arange(t_ns.size) - 30.0)
    fat[t_ns.size // 3] = 99.0
    (folder / "runs").mkdir(parents=True, exist_ok=True)
    with RunWriter.create(folder / "runs" / f"{run_id}.run", header) as file:
        readings = [
            StoredReading("fat", t, round(v, 3))
            for t, v in zip(t_ns.tolist(), fat.tolist(), strict=True)
        ]
        readings += [
            StoredReading("bath_scale", t, 400.0)
            for t in t_ns.tolist()
            if not 30 * 10**9 < t < 60 * 10**9
        ]
        events = [Event(t_ns=5 * 10**9, kind="note", source="operator", text="<b>hot</b>")]
        file.write(WriteBatch(readings=readings, events=events))
        results = Results(
            stages=[StageRow(id="warm", kind="heat", start_s=0.0, end_s=float(seconds))],
            findings=[
                Finding(key="heat.fat_c", check="fat temperature", stage="warm",
                        verdict="not met", value=20.1, unit="degC",
                        expanded_uncertainty=0.6, low=44.0, high=58.0,
                        evidence="never above 20.2 °C"),
                Finding(key="heat.water_c", check="water temperature", stage="warm",
                        verdict="not measured"),
            ],
            immersions=[ImmersionRow(piece=1, in_s=40.0, out_s=100.0, dwell_s=60.0,
                                     set_fraction=0.97, verdict="met")],
        )  # fmt: skip
        file.finish(results, START_NS + seconds * 10**9)

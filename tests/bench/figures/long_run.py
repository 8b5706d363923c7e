"""The page of a run with ten million readings: first paint, zoom, memory of the server.

The set is that of ``store``: 16 channels of 625,000 readings at 10 Hz. Writing it takes minutes;
``BAINLOG_LONG_RUN`` names a data folder in which it is kept for the next time.
"""

import os
import random
import re
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import psutil

from logger.model.bench import Bench
from logger.model.files import sheet_from_text
from logger.model.finding import Results
from logger.store.run.records import ChannelRecord, RunHeader, StoredReading, WriteBatch
from logger.store.run.runfile import RunWriter
from tests.bench.figures.browsing import load, open_browser
from tests.bench.figures.probes import SHEET
from tests.bench.store import BATCH, CHANNELS, READINGS, channel_of

RUN_ID = "20261125-0913-a3f2"
START_NS = 1_795_594_382_000_000_000
OPENINGS, ZOOMS = 5, 60
PAINTED = """
const look = () => {
  const plot = document.querySelector("#run-graph .js-plotly-plot");
  if (plot && plot.data && plot.data.length) {
    requestAnimationFrame(() => { window.painted_ms = performance.now(); });
  } else requestAnimationFrame(look);
};
requestAnimationFrame(look);
"""
ZOOM = """
([low, high]) => new Promise((done, failed) => {
  setTimeout(() => failed(new Error("the zoom was not drawn within 30 s")), 30000);
  const plot = document.querySelector("#run-graph .js-plotly-plot");
  const before = plot.data[0].x;
  const began = performance.now();
  const drawn = () => {
    if (plot.data[0].x === before) return;
    plot.removeListener("plotly_afterplot", drawn);
    requestAnimationFrame(() => done(performance.now() - began));
  };
  plot.on("plotly_afterplot", drawn);
  const ends = { "xaxis.range[0]": low, "xaxis.range[1]": high };
  window.Plotly.relayout(plot, ends);
})
"""


def write_long_run(folder: Path) -> None:
    """Write the run, unless the folder has it."""
    path = folder / "runs" / f"{RUN_ID}.run"
    if path.exists():
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    ids = [f"c{number}" for number in range(CHANNELS)]
    bench = Bench.model_validate(
        {
            "instrument": [{"id": "probes", "port": "none", "shape": "none"}],
            "channel": [
                {"id": i, "instrument": "probes", "field": f"t{n}", "role": "other"}
                for n, i in enumerate(ids)
            ],
        }
    )
    header = RunHeader(
        run_id=RUN_ID,
        sheet_json=sheet_from_text(SHEET, "bench").model_dump_json(by_alias=True),
        sheet_text=SHEET,
        bench_json=bench.model_dump_json(by_alias=True),
        bench_text="",
        started_utc_ns=START_NS,
        channels=tuple(ChannelRecord(i, "probes", f"t{n}", "other", "degC")
                       for n, i in enumerate(ids)),
    )  # fmt: skip
    columns = [channel_of(seed) for seed in range(CHANNELS)]
    with RunWriter.create(path, header) as file:
        for start in range(0, READINGS, BATCH):
            cut = slice(start, start + BATCH)
            readings = []
            for channel, (t_ns, value) in zip(ids, columns, strict=True):
                pairs = zip(t_ns[cut].tolist(), value[cut].tolist(), strict=True)
                readings += [StoredReading(channel, t, v) for t, v in pairs]
            file.write(WriteBatch(readings=readings))
            file.compact()
        end_s = READINGS / 10
        stages = [{"id": "warm", "kind": "heat", "start_s": 0.0, "end_s": end_s}]
        file.finish(Results(stages=stages), START_NS + round(end_s * 1e9))


def measure_page(page: Any, url: str) -> tuple[list[float], list[float]]:
    """Return the first paints and the zooms of the run's page [ms]; the first opening is cold."""
    page.add_init_script(PAINTED)
    paints = []
    for _ in range(OPENINGS):
        page.goto(f"{url}runs/{RUN_ID}")
        page.wait_for_function("() => window.painted_ms", timeout=120_000)
        paints.append(float(page.evaluate("window.painted_ms")))
        page.wait_for_load_state("networkidle")
    chance = random.Random(1)
    zooms = []
    for _ in range(ZOOMS):
        width_s = 10 ** chance.uniform(1.5, 4.5)
        low_s = chance.uniform(0.0, READINGS / 10 - width_s)
        ends = [864_000_000 + 1000 * t for t in (low_s, low_s + width_s)]
        zooms.append(float(page.evaluate(ZOOM, ends)))
        page.wait_for_load_state("networkidle")
    return paints, zooms


def main() -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(os.environ.get("BAINLOG_LONG_RUN") or scratch)
        write_long_run(folder)
        command = [sys.executable, "-u", "-m", "dashboard", "--data", str(folder), "--port", "0"]
        server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        try:
            found = re.search(r"http://\S+", server.stdout.readline() if server.stdout else "")
            with open_browser() as browser:
                page = browser.new_page(viewport={"width": 1280, "height": 800})
                paints, zooms = measure_page(page, found[0] if found else "")
            held = psutil.Process(server.pid).memory_info().rss / 1e6
        finally:
            server.terminate()
            server.wait(20)
            if server.stdout is not None:
                server.stdout.close()
    cuts = statistics.quantiles(zooms, n=20)
    print(
        f"run of {CHANNELS * READINGS:,} readings: first paint {paints[0]:.0f} ms cold, "
        f"{statistics.median(paints[1:]):.0f} ms warm; zoom p50 {statistics.median(zooms):.0f} ms, "
        f"p95 {cuts[18]:.0f} ms of {len(zooms)}; the server held {held:.0f} MB; {load()}"
    )

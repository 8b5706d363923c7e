"""The screen under load: from a sample's arrival to the painted frame, bytes, processor time.

A real recorder reads eight probes at 10 Hz from a pseudo-terminal; two hours of made history lie
ahead of what it records, so that the page draws as much as on a long day. Then the page of a run of
ten million readings. ``--soak-minutes 30`` also leaves the live page of a batch at ten times the
speed open so long and watches memory. Needs a Chromium.
"""

import os
import statistics
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

import numpy as np
import psutil

from dashboard.app import build_app
from dashboard.doors.address import bind
from dashboard.links import Links
from dashboard.live.drawing.canvas import AXIS_START_MS
from dashboard.serve import Screen
from logger.control.client import Client
from logger.model.state import State as RecorderState
from logger.recorder.launch import start_process
from logger.store.run.records import Series
from logger.store.run.runfile import RunView
from tests.bench.figures import long_run as _long_run
from tests.bench.figures import screen_soak as _screen_soak
from tests.bench.figures.browsing import browsers, load, open_browser, rss_mb, used_s
from tests.bench.figures.probes import PROBES, SHEET, Probes

RATE_HZ = 10.0
AHEAD_S = 7200.0
WARM_S, MEASURE_S = 8.0, 40.0
WATCH = """
(origin_ms) => {
  window.late_ms = [];
  const last = {};
  const look = (count) => {
    const now = Date.now();
    for (const trace of window.bainlogStrip.traces) {
      if (!String(trace.meta).startsWith("tail:")) continue;
      for (const x of trace.x) {
        if (last[trace.meta] !== undefined && x <= last[trace.meta]) continue;
        if (count) window.late_ms.push(now - (x + origin_ms));
        last[trace.meta] = x;
      }
    }
  };
  look(false);
  document.addEventListener("strip-painted", () => requestAnimationFrame(() => look(true)));
}
"""


class AheadView:
    """A run's view with two hours of made readings before it."""

    def __init__(self, view: RunView) -> None:
        self._view = view
        self.header = view.header
        self.bench, self.close, self.together = view.bench, view.close, view.together
        self.results = view.results

    def events(self, after_seq: int = 0) -> list[Any]:
        return []

    def readings(self, channel: str, from_ns: int | None = None, to_ns: int | None = None) -> Any:
        shift = int(AHEAD_S * 1e9)
        real = self._view.readings(channel, max(0, (from_ns or 0) - shift), None)
        t_ns, value, flags = real.t_ns + shift, real.value, real.flags
        if (from_ns or 0) < shift:
            made_ns = np.arange(0, shift, int(1e9 / RATE_HZ))
            made = 40.0 + 15.0 * np.sin(made_ns / 1e12) + 0.05 * np.sin(made_ns / 1e8)
            t_ns, value = np.r_[made_ns, t_ns], np.r_[made, value]
            flags = np.r_[np.zeros(made_ns.size, np.int32), flags]
        return Series(t_ns=t_ns, value=value, flags=flags)


def _later(t_s: float | None) -> float | None:
    return None if t_s is None else t_s + AHEAD_S


class AheadLinks(Links):
    """Reaches the real recorder, two hours later."""

    def state(self) -> RecorderState | None:
        state = super().state()
        if state is None:
            return None
        state.t_s += AHEAD_S
        for channel in state.channels:
            channel.t_s = _later(channel.t_s)
        for stage in state.stages:
            stage.start_s, stage.end_s = _later(stage.start_s), _later(stage.end_s)
        return state

    def open_run(self, run_id: str) -> Any:
        return AheadView(super().open_run(run_id))


def measure(url: str, origin_ms: float, window: str) -> None:
    """Open the page, wait, print what was seen."""
    with open_browser() as browser:
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        page.goto(url)
        page.wait_for_selector("#bench-page[data-state=recording]")
        page.click(f'[data-window="{window}"]')
        page.wait_for_timeout(WARM_S * 1000)
        line = page.context.new_cdp_session(page)
        sizes: list[float] = []
        line.send("Network.enable")
        line.on("Network.loadingFinished", lambda told: sizes.append(told["encodedDataLength"]))
        page.evaluate(WATCH, origin_ms)
        mine = browsers()
        before, began = used_s(mine), time.monotonic()
        page.wait_for_timeout(MEASURE_S * 1000)
        lasted = time.monotonic() - began
        share = (used_s(mine) - before) / lasted
        late = page.evaluate("window.late_ms")
        drawn = page.evaluate(
            "window.bainlogStrip.traces.reduce((sum, trace) => sum + trace.x.length, 0)"
        )
    cuts = statistics.quantiles(late, n=100)
    print(
        f"window {window}: sample to painted p5 {cuts[4]:.0f} ms, p50 {cuts[49]:.0f} ms, "
        f"p95 {cuts[94]:.0f} ms, max "
        f"{max(late):.0f} ms of {len(late)} samples ({PROBES} x {RATE_HZ:g} Hz, "
        f"{drawn} points drawn); {len(sizes) / lasted:.1f} updates/s, median "
        f"{statistics.median(sizes):.0f} and mean {statistics.mean(sizes):.0f} bytes each; "
        f"browser {share:.0%} of a core; {load()}"
    )


def _first_anchor(path: Path) -> Any:
    """Return where the run's axis first stood against the clocks, once that is in the file."""
    pause = threading.Event()
    with RunView.open(path) as view:
        while not (anchors := view.anchors()):
            pause.wait(0.05)
        return anchors[0]


def main() -> None:
    """Print all."""
    minutes = float(os.environ.get("BAINLOG_SCREEN_SOAK_MINUTES", "0"))
    probes = Probes(RATE_HZ)
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        (folder / "bench.toml").write_text(probes.bench_text())
        (folder / "load.sheet.toml").write_text(SHEET)
        probes.start()
        process = start_process(folder / "data", folder / "bench.toml", folder / "load.sheet.toml")
        try:
            with Client(folder / "data") as client:
                run_id = client.send("start")["run"]
                anchor = _first_anchor(folder / "data" / "runs" / f"{run_id}.run")
                wall_ms = (time.time_ns() - time.monotonic_ns() + anchor.mono_ns) / 1e6
                origin_ms = wall_ms - (anchor.t_ns or 0) / 1e6 - AHEAD_S * 1e3 - AXIS_START_MS
                app = build_app(folder / "data", links=AheadLinks(folder / "data"))
                listener, _ = bind("127.0.0.1", 0)
                url = f"http://127.0.0.1:{listener.getsockname()[1]}/"
                screen = Screen(app, listener, url, moved=False)
                threading.Thread(target=screen.run, daemon=True).start()
                for window in ("20 min", "all"):
                    measure(url, origin_ms, window)
                print(f"this process with the screen in it: {rss_mb([psutil.Process()]):.0f} MB")
                client.send("run_end")
        finally:
            process.terminate()
            process.wait()
            if process.stderr is not None:
                process.stderr.close()
            probes.stop()
    if minutes:
        _screen_soak.main(minutes)
    _long_run.main()

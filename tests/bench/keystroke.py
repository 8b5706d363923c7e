"""From a key in the form of a sheet to the painted prediction: 60 ingredients, 25 stages.

A screen in a process of its own serves a made-up sheet of that size; in a browser digits are typed
into an amount of the grid and into a target of a card, one key after the last has been answered.
Needs a Chromium.
"""

import os
import statistics
import tempfile
from pathlib import Path
from typing import Any

import psutil

from logger.store.folder.datafolder import DataFolder
from tests.bench.figures.browsing import browsers, open_browser, used_s
from tests.dashboard.processes import ScreenProcess

ROLL = Path(__file__).resolve().parents[2] / "logger" / "virtual" / "roll.sheet.toml"
INGREDIENTS, STAGES, KEYS = 60, 25, 60
WANTED_MS = 300
PLACES = {
    "amount in the grid": "#sheet-grid [row-id='0'] [col-id=amount]",
    "target on a card": "[data-field='stage:2:fat.low']",
}
WATCH = """
() => {
  window.late_ms = [];
  let pressed = null;
  addEventListener("keydown", () => { pressed = performance.now(); }, true);
  new MutationObserver(() => requestAnimationFrame(() => setTimeout(() => {
    if (pressed !== null) window.late_ms.push(performance.now() - pressed);
    pressed = null;
  }))).observe(document.getElementById("sheet-plan"), {
    subtree: true, childList: true, characterData: true,
  });
}
"""


def large_sheet() -> str:
    """Return the text of a sheet with as many ingredients and stages as are wanted."""
    head, _, stages = ROLL.read_text("utf-8").partition("[[stage]]")
    more = INGREDIENTS - head.count("[[ingredient]]")
    spices = [
        f'[[ingredient]]\nname = "spice {n}"\nphase = "filling"\nmass = "{n}.5 g" # by hand\n'
        f'tolerance = "2 %"\nlot = "SP-{n:04d}"\nprice = "3.10 EUR/kg"\n'
        for n in range(1, more + 1)
    ]
    work = [
        f'[[stage]]\nid = "work{n}"\nkind = "work"\ntime = {{ low = "3 min", high = "6 min" }}\n'
        f'planned = "5 min"\n'
        for n in range(STAGES - 1 - stages.count("[[stage]]"))
    ]
    return "\n".join([head, *spices, f"[[stage]]{stages}", *work])


def late_ms(page: Any, place: str) -> list[float]:
    """Return how long each key took until the forecast was painted anew [ms]."""
    if place.startswith("#sheet-grid"):
        page.click(place)
        page.keyboard.press("Enter")
        page.locator(f"{place} input").wait_for()
    else:
        page.locator(place).locator("xpath=ancestor::details/summary").click()
        page.click(place)
    page.keyboard.press("Home")
    page.evaluate(WATCH)
    for count in range(KEYS):
        page.keyboard.press("Backspace" if count % 2 else "1")
        page.wait_for_function("(n) => window.late_ms.length > n", arg=count, timeout=60_000)
    found: list[float] = page.evaluate("window.late_ms")
    page.keyboard.press("Escape")
    return found


def screens() -> list[psutil.Process]:
    """The screens that this process started."""
    return [p for p in psutil.Process().children() if "python" in p.name()]


def per_key_ms(before_s: tuple[float, float], after_s: tuple[float, float]) -> str:
    """Return what a key took of the processor in the browser and in the screen [ms]."""
    browser, screen = (1e3 * (b - a) / KEYS for a, b in zip(before_s, after_s, strict=True))
    return f"browser {browser:.0f}, screen {screen:.0f} ms"


def main() -> None:
    """Print the times of both places."""
    print(f"load {os.getloadavg()[0]:.1f} of {os.cpu_count()} cores; wanted {WANTED_MS} ms")
    with tempfile.TemporaryDirectory() as where:
        DataFolder(Path(where)).save_sheet("large", large_sheet())
        screen = ScreenProcess(Path(where))
        try:
            with open_browser() as browser:
                for name, place in PLACES.items():
                    page = browser.new_context(viewport={"width": 1280, "height": 800}).new_page()
                    page.goto(f"{screen.url}sheets?sheet=large")
                    page.locator(".ag-row").nth(INGREDIENTS - 1).wait_for(state="attached")
                    page.locator(".stage-card").nth(STAGES).wait_for()
                    page.wait_for_load_state("networkidle")
                    before_s = used_s(browsers()), used_s(screens())
                    found = sorted(late_ms(page, place))
                    after_s = used_s(browsers()), used_s(screens())
                    p95 = found[int(0.95 * len(found))]
                    middle = statistics.median(found)
                    print(
                        f"{name}: n {len(found)}, p50 {middle:.0f}, p95 {p95:.0f}, "
                        f"longest {found[-1]:.0f} ms; processor time a key: "
                        f"{per_key_ms(before_s, after_s)}"
                    )
        finally:
            screen.stop()

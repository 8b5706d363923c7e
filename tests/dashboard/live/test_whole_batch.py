"""A whole short batch of the virtual bench in a real browser, by keyboard alone.

From a screen with nothing plugged in to the report. Nothing of the page may ask another machine
and nothing may be complained about in its console (`open_page` sees to both).
"""

import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from logger.control.client import Client
from logger.recorder.launch import start_process
from logger.store.folder.datafolder import DataFolder
from tests.dashboard.pages import expect
from tests.faults.scale import until
from tests.virtual.stepped import SteppedBench

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.timeout(900)]

RATE_HZ = 2.0
AHEAD_S = 20
"""How far the bench may be ahead of what the recorder has judged [s of the batch]."""
UNTIL_OPEN_S = 10.0
"""Until every port is open and known [s of the batch]."""
WAIT_S = 120.0
SCRIPT = "<script>window.hurt = true</script> lumpy"


class Table:
    """A virtual bench that waits for its recorder; it is started later, as a person plugs in."""

    def __init__(self, folder: Path, scratch: Path) -> None:
        self.folder = DataFolder(folder)
        self.client = Client(folder)
        self.bench = SteppedBench(
            scratch / "bench", seed=1, short=True, rate_hz=RATE_HZ,
            shapes={"bowl_scale": "flag-first comma weight"},
        )  # fmt: skip
        self._scratch = scratch
        self._recorder: Any = None
        (self.folder.sheets / "roll.sheet.toml").write_text(self.bench.sheet_text())

    def plug_in(self) -> None:
        file = self._scratch / "bench.toml"
        file.write_text(self.bench.bench_text())
        self._recorder = start_process(
            self.folder.path, file, None, speed=1.0, follow=self.bench.clock_file
        )
        self.bench.start()
        self.bench.await_reader(self.client)
        self.play(UNTIL_OPEN_S)

    def at_s(self, kind: str, number: int = 0) -> float:
        """When the cook of this batch says something [s]."""
        return [t_s for t_s, said, _ in self.bench.operator_script() if said == kind][number]

    def play(self, until_s: float) -> None:
        """Let the batch go on to a time [s], all of it judged."""
        for now_s in self.bench.play(until_s):
            if int(now_s) % AHEAD_S == 0:
                self._judged(now_s)
        self._judged(until_s)

    def _judged(self, t_s: float) -> None:
        until(lambda: self.client.state().t_s > t_s - 2 / RATE_HZ, f"{t_s} s of the batch")

    def stop(self) -> None:
        self.client.close()
        if self._recorder is not None:
            self._recorder.terminate()
            self._recorder.wait(60)
            if self._recorder.stderr is not None:
                self._recorder.stderr.close()
        self.bench.stop()


@pytest.fixture
def table(tmp_path) -> Iterator[Table]:
    with tempfile.TemporaryDirectory(prefix="bainlog-") as scratch:
        made = Table(tmp_path, Path(scratch))
        yield made
        made.stop()


def tab_to(page: Any, selector: str) -> None:
    """Press Tab until something has the focus, as a person without a mouse does."""
    for _ in range(120):
        page.keyboard.press("Tab")
        if page.evaluate("(at) => Boolean(document.activeElement?.closest(at))", selector):
            return
    raise AssertionError(f"{selector} is not reached with the Tab key")


def press(page: Any, table: Table, key: str, said: str) -> None:
    """Press a key at the bench, wait for what comes of it, and let some of the batch go by."""
    expect(page.locator(f"button[data-key={key}]")).to_be_attached(timeout=WAIT_S * 1000)
    page.keyboard.press(key)
    expect(page.locator("#toast")).to_contain_text(said, timeout=60_000)
    table.play(table.bench.now_s + 3.0)


def test_a_batch_from_nothing_plugged_in_to_the_report_by_keyboard(table, open_screen, open_page):
    page = open_page(open_screen(table.folder.path).url)
    page_state = page.locator("#bench-page")
    expect(page.locator(".say")).to_have_text("Nothing is plugged in yet.")
    expect(page.locator(".sentence")).to_contain_text("bainlog demo")

    table.plug_in()
    expect(page_state).to_have_attribute("data-state", "idle", timeout=60_000)

    page.keyboard.press("s")
    expect(page.locator("#sheet-choice")).to_be_focused()
    expect(page.locator("#sheet-choice option[value=roll]")).to_be_attached()
    page.keyboard.press("r")
    expect(page.locator("#sheet-choice")).to_have_value("roll")
    tab_to(page, "#start-go")
    page.keyboard.press("Enter")
    expect(page_state).to_have_attribute("data-state", "recording", timeout=60_000)
    table.bench.restart()
    table.play(10.0)
    page.wait_for_function(
        "() => window.bainlogStrip.traces.some("
        "(t) => /^(tail|history):/.test(t.meta) && t.x.length > 5)"
    )

    table.play(table.at_s("next"))
    press(page, table, "n", "Next stage.")
    expect(page.locator(".ticket[aria-current=step]")).to_contain_text("Pour the fat in")
    table.play(table.at_s("mark"))
    press(page, table, "m", "Marked.")
    page.keyboard.press("u")
    expect(page.locator("#undo-last")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("#toast")).to_contain_text("Taken back: mark, ")
    page.keyboard.press("t")
    expect(page.locator("#note-text")).to_be_focused()
    page.keyboard.type(SCRIPT)
    tab_to(page, "#note-go")
    page.keyboard.press("Enter")
    expect(page.locator("#toast")).to_contain_text("Note saved.")

    table.play(table.at_s("next", 1))
    press(page, table, "n", "Next stage.")
    press(page, table, "p", "Piece in.")
    press(page, table, "c", "Piece confirmed.")
    table.play(table.at_s("run_end"))
    expect(page.locator(".board-row")).not_to_have_count(0)

    page.keyboard.press("e")
    expect(page.locator("#end-dialog")).to_be_visible()
    tab_to(page, "#end-go")
    page.keyboard.press("Enter")
    expect(page.locator("#toast")).to_contain_text("finished and saved", timeout=60_000)
    tab_to(page, "#toast a")
    page.keyboard.press("Enter")

    expect(page.locator("#run-exact")).not_to_be_empty()
    expect(page.locator("#run-tables")).to_contain_text(SCRIPT)
    tab_to(page, "input[type=radio][value=accepted]")
    page.keyboard.press("Space")
    tab_to(page, "#out-save")
    page.keyboard.press("Enter")
    expect(page.locator("#out-said")).to_have_text("Saved.")

    run_id = table.folder.run_ids()[0]
    tab_to(page, f"a[href='/runs/{run_id}/report']")
    with page.expect_popup() as opened:
        page.keyboard.press("Enter")
    report = opened.value
    expect(report.locator("body")).to_contain_text(SCRIPT)
    expect(report.locator("body")).to_contain_text("accepted")
    assert report.evaluate("window.hurt") is None
    report.close()

    tab_to(page, f"a[href='/why/{run_id}']")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_contain_text("accepted")
    page.wait_for_function(
        "() => (document.querySelector('#why-graph .js-plotly-plot')?.data || []).length > 2"
    )
    assert page.evaluate("window.hurt") is None

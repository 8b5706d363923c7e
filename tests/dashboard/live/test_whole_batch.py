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
from logger.virtual.process import BenchProcess
from tests.dashboard.pages import expect

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.timeout(900)]

SPEED = 30.0
WAIT_S = 120.0
"""Longer than the whole batch takes on a busy machine."""
SCRIPT = "<script>window.hurt = true</script> lumpy"


class Table:
    """A virtual bench whose recorder is started later, as a person plugs in."""

    def __init__(self, folder: Path, scratch: Path) -> None:
        self.folder = DataFolder(folder)
        self.client = Client(folder)
        self.bench = BenchProcess(scratch, seed=1, speed=SPEED, short=True)
        self._scratch = scratch
        self._recorder: Any = None
        (self.folder.sheets / "roll.sheet.toml").write_text(self.bench.sheet_text())

    def plug_in(self) -> None:
        file = self._scratch / "bench.toml"
        file.write_text(self.bench.bench_text())
        self.bench.start()
        self._recorder = start_process(self.folder.path, file, None, speed=SPEED)

    def at_s(self, kind: str, number: int = 0) -> float:
        """When the cook of this batch says something [s]."""
        return [t_s for t_s, said, _ in self.bench.operator_script() if said == kind][number]

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


def press(page: Any, key: str, said: str) -> None:
    """Press a key at the bench and wait for what comes of it."""
    expect(page.locator(f"button[data-key={key}]")).to_be_attached(timeout=WAIT_S * 1000)
    page.keyboard.press(key)
    expect(page.locator("#toast")).to_contain_text(said, timeout=60_000)


def test_a_batch_from_nothing_plugged_in_to_the_report_by_keyboard(
    table, open_screen, open_page, eventually
):
    def batch_reaches(t_s: float) -> None:
        eventually(lambda: table.client.state().t_s >= t_s, WAIT_S)

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
    page.wait_for_function(
        "() => window.bainlogStrip.traces.some("
        "(t) => String(t.meta).startsWith('tail:') && t.x.length > 5)"
    )

    batch_reaches(table.at_s("next"))
    press(page, "n", "Next stage.")
    expect(page.locator(".ticket[aria-current=step]")).to_contain_text("Pour the fat in")
    batch_reaches(table.at_s("mark"))
    press(page, "m", "Marked.")
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

    batch_reaches(table.at_s("next", 1))
    press(page, "n", "Next stage.")
    press(page, "p", "Piece in.")
    press(page, "c", "Piece confirmed.")
    batch_reaches(table.at_s("run_end"))
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

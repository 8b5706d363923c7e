"""Hands at the bench in a real browser: acts are taken back and moved, a batch goes on after a kill
or an end, start and end ask what makes a batch findable.

One recorder on a counting scale, one screen and one page for all, each test a batch of its own;
waits for what is shown, never for a time.
"""

import contextlib
import os
import re
import signal
from dataclasses import asdict

import pytest

from dashboard.live.asking import LotField, StandIn, StartForm
from logger.control.client import Client, GoneError
from logger.model.history import piece_defects, said_results
from logger.model.rows import ResultRow
from logger.recorder.launch import start_process
from logger.store.folder.catalog import Catalog
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView
from tests.dashboard.pages import Opener, expect, forms, open_end, small_targets
from tests.dashboard.processes import ScreenProcess
from tests.recorder.conftest import BENCH, CountingScale

pytestmark = [pytest.mark.browser, pytest.mark.slow]

SHEET = """
[sheet]
name = "Smoked beet and barley roll"
defects = ["broken emulsion", "greasy", "skin burst"]

[[result]]
name = "cook loss"
unit = "%"

[[ingredient]]
name = "oat fibre"
phase = "water"
mass = "12 g"
lot = "OF-1"

[[ingredient]]
name = "beet juice"
phase = "water"
mass = "300 g"
alternative = [{ name = "carrot juice", ratio = "90 %" }]

[[stage]]
id = "warm"
kind = "rinse"
title = "Warm both"
planned = "5 min"

[[stage]]
id = "pour"
kind = "rinse"
title = "Pour the fat in"
planned = "3 min"

[[stage]]
id = "skin"
kind = "set"
title = "Set the skin"
planned = "10 min"
dwell = { low = "6 min", high = "12 min" }
"""


class SlowScale(CountingScale):
    """One that speaks as often as a kitchen scale does."""

    INTERVAL_S = 0.1


class Table:
    """A bench with a recorder that can be killed, and a screen."""

    def __init__(self, folder):
        self.folder = DataFolder(folder / "data")
        self.bench, self.sheet = folder / "bench.toml", folder / "roll.sheet.toml"
        self.sheet.write_text(SHEET)
        self.scale = SlowScale().start()
        self.bench.write_text(BENCH.format(port=self.scale.port, shape="flag-first comma weight"))
        self.process = None
        self.begin()
        self.client = Client(self.folder.path)
        self.screen = ScreenProcess(self.folder.path)

    def begin(self, **how):
        self.process = start_process(self.folder.path, self.bench, self.sheet, **how)

    def end(self, number=signal.SIGTERM):
        os.kill(self.process.pid, number)
        self.process.wait(60)
        if self.process.stderr is not None:
            self.process.stderr.close()

    def close(self):
        with contextlib.suppress(ProcessLookupError):
            self.end()
        self.screen.stop()
        self.client.close()
        self.scale.stop()

    def run(self):
        return RunView.open(self.folder.run_path(self.folder.newest_run()))

    def kinds(self):
        """Return the kinds of what the run's file holds."""
        with self.run() as view:
            return [e.kind for e in view.events()]

    def came_to(self, t_s):
        """Whether the run has come so far."""
        with contextlib.suppress(GoneError):
            return self.client.state().t_s >= t_s
        return False


@pytest.fixture(scope="module")
def table(tmp_path_factory):
    made = Table(tmp_path_factory.mktemp("hands"))
    yield made
    made.close()


@pytest.fixture(scope="module")
def opener(browser):
    made = Opener(browser)
    yield made
    made.close()


@pytest.fixture(scope="module")
def bench_page(table, opener):
    return opener(table.screen.url)


@pytest.fixture
def page(bench_page, table, opener):
    if bench_page.url != table.screen.url:
        bench_page.goto(table.screen.url)
    yield bench_page
    if bench_page.locator("#bench-page[data-state=recording]").count():
        table.client.send("run_end")
    assert opener.strayed == []
    assert opener.complaints == []


@pytest.fixture
def look(violations, shoot):
    """Return a function that looks at a page in each form: within reach, and named for all."""

    def looked(page, what):
        for form in forms(page):
            shoot(page, f"{what}-{form}")
            assert violations(page) == []
            assert small_targets(page) == []

    return looked


def is_in(page, state):
    expect(page.locator("#bench-page")).to_have_attribute("data-state", state)


def begin(page):
    """Start a batch by the dialog."""
    is_in(page, "idle")
    page.click("#do-start")
    expect(page.locator("#start-operator")).to_be_visible()
    page.click("#start-go")
    is_in(page, "recording")


def now_in(page, title):
    expect(page.locator(".ticket[aria-current=step]")).to_contain_text(title)


def go_next(page, title):
    """Press Next; not so soon after the last one that it counts as the same tap."""
    page.wait_for_function("() => performance.now() - (window.pressedNext || -1e9) > 2000")
    page.locator("#do-next:not([disabled])").click()
    page.evaluate("() => { window.pressedNext = performance.now(); }")
    now_in(page, title)
    expect(page.locator("#do-undo")).to_contain_text(f"start of {title}")


def toast(page, text):
    expect(page.locator("#toast")).to_contain_text(text)


def test_the_start_asks_what_makes_a_batch_findable_and_knows_it_the_next_time(page, table, look):
    is_in(page, "idle")
    page.click("#do-start")
    expect(page.locator("#start-lot-0")).to_have_value("OF-1")
    expect(page.locator("#start-lot-1")).to_be_visible()
    page.fill("#start-operator", "Ada")
    page.fill("#start-size", "12 pieces")
    expect(page.locator(".lot-told").first).to_have_text("as last time")
    page.fill("#start-lot-0", "OF-2")
    expect(page.locator(".lot-told").first).to_have_text("new since last time")
    page.select_option("#start-instead-1", "carrot juice")
    page.fill("#start-lot-1", "CJ-1")
    page.fill("#start-note", "fan on low")
    look(page, "start")
    page.dblclick("#start-go")
    toast(page, "Note saved.")
    is_in(page, "recording")
    expect(page.locator("dialog[open]")).to_have_count(0)
    open_end(page)
    expect(page.locator("#end-fields")).to_contain_text("Decide later")
    page.click("#end-go")
    is_in(page, "idle")
    with table.run() as view:
        assert "fan on low" in [e.text for e in view.events() if e.kind == "note"]
        taken = view.sheet().ingredient[1]
    assert (taken.name, taken.mass_g, taken.lot) == ("carrot juice", 270.0, "CJ-1")
    (entry,) = Catalog(table.folder).runs(text="ada of-2 12")
    assert (entry.operator, entry.size, set(entry.lots)) == ("Ada", "12 pieces", {"OF-2", "CJ-1"})
    page.click("#do-start")
    expect(page.locator("#start-operator")).to_have_value("Ada")
    expect(page.locator("#start-size")).to_have_value("12 pieces")
    expect(page.locator("#start-lot-0")).to_have_value("OF-2")
    expect(page.locator("#start-says")).to_contain_text("Filled in from the batch of")
    page.evaluate("(form) => dash_clientside.asking.start(form)", CHOSEN)
    expect(page.locator("#start-instead-0")).to_have_value("carrot juice")
    expect(page.locator("#start-lot-0")).to_have_value("")  # that of another thing
    page.keyboard.press("Escape")


def test_a_sheet_without_stages_is_not_started(page, table, look):
    table.folder.save_sheet("pantry", SHEET.partition("[[stage]]")[0].replace("beet and", "oat"))
    page.click("#do-start")
    page.select_option("#sheet-choice", "pantry")
    expect(page.locator("#start-says")).to_contain_text("add a stage first")
    page.click("#start-go")
    expect(page.locator("#start-dialog .refused")).to_contain_text("add a stage first")
    page.keyboard.press("Escape")
    is_in(page, "idle")


CHOSEN = asdict(
    StartForm(
        lots=[
            LotField(
                ingredient="beet juice",
                lot="B-7",
                of_sheet="B-7",
                instead=[StandIn(name="carrot juice", amount="270 g")],
                taken="carrot juice",
            )
        ]
    )
)
"""A start dialog with an alternative that the command has chosen."""
REDRAWN = """
() => {
  const found = [...document.querySelectorAll(".ticket button")];
  const old = found.find((one) => one.textContent.includes("Pour the fat in"));
  old.dispatchEvent(new PointerEvent("pointerdown", { bubbles: true }));
  const fresh = old.cloneNode(true);
  old.replaceWith(fresh);
  fresh.dispatchEvent(new PointerEvent("pointerup", { bubbles: true }));
  fresh.replaceWith(old);
}
"""
"""A tap on a stage that is drawn anew while the finger is down."""


def test_any_act_can_be_taken_back_or_moved_and_a_time_that_cannot_be_is_refused(
    page, eventually, table, look
):
    begin(page)
    go_next(page, "Pour the fat in")
    go_next(page, "Set the skin")
    page.click("#do-mark")
    expect(page.locator("#do-undo")).to_contain_text("mark, 0:")
    page.keyboard.press("u")
    first = page.locator("#undo-last")
    expect(first).to_be_focused()
    expect(first).to_contain_text("Undo: mark, 0:")
    look(page, "undo")
    older = page.get_by_role("button", name=re.compile("Undo: start of Pour the fat in"))
    older.click()
    toast(page, "Taken back: start of Pour the fat in, 0:")
    expect(page.locator(".ticket", has_text="Pour the fat in")).to_contain_text("planned")
    now_in(page, "Set the skin")
    page.keyboard.press("u")
    expect(first).to_be_focused()
    page.keyboard.press("Enter")
    toast(page, "Taken back: mark, 0:")
    page.keyboard.press("u")
    expect(first).to_contain_text("start of Set the skin")
    first.click()
    toast(page, "Taken back: start of Set the skin")
    now_in(page, "Warm both")

    go_next(page, "Pour the fat in")
    page.click("#do-mark")
    toast(page, "Marked.")
    page.locator(".ticket", has_text="Pour the fat in").locator("button").click()
    expect(page.locator("#move-dialog-title")).to_have_text("Move: start of Pour the fat in")
    look(page, "move")
    page.fill("#move-time", "soon")
    page.click("#move-go")
    expect(page.locator("#move-says")).to_contain_text("such as 12:04")
    page.fill("#move-time", "0:12")
    page.click("[data-step='-10']")
    expect(page.locator("#move-time")).to_have_value("0:02")
    page.keyboard.press("Tab")
    page.click("#move-go")
    toast(page, "Moved: start of Pour the fat in, from 0:")
    toast(page, "to 0:02")
    assert eventually(lambda: [s.start_s for s in table.client.state().stages][1] == 2.0)
    page.click("#do-undo")
    page.get_by_role("button", name=re.compile("Move: mark")).click()
    expect(page.locator("#move-time")).to_be_focused()
    page.keyboard.type("0:01")
    page.keyboard.press("Enter")
    toast(page, "Moved: mark, from 0:")
    page.evaluate(REDRAWN)
    page.fill("#move-time", "9:00")
    page.click("#move-go")
    toast(page, "Not done.")
    toast(page, "outside the run")
    page.keyboard.press("Escape")


def test_the_end_asks_how_it_came_out_and_its_page_corrects_it_later(
    page, table, eventually, violations, shoot, look
):
    begin(page)
    assert eventually(lambda: table.came_to(2.0))  # it is moved to 0:01 below: another time
    go_next(page, "Pour the fat in")
    table.client.send("piece_in", piece=2)
    assert eventually(lambda: table.came_to(3.0))
    open_end(page)
    page.locator("#end-fields").get_by_label("Accepted").check()
    page.get_by_role("group", name="All").get_by_label("greasy").check()
    first, second = (page.get_by_role("group", name=number, exact=True) for number in "12")
    first.get_by_label("good").check()
    first.get_by_label("skin burst").check()
    expect(first.get_by_label("good")).not_to_be_checked()
    second.get_by_label("good").check()
    expect(page.locator("#end-says")).to_have_text("1 skin burst, 1 good")
    page.fill("#end-new", "fizzy")
    page.locator("#end-fields").get_by_label("Cook loss, %").fill("12.4")
    page.fill("#end-text", "cooled too fast")
    page.click("#end-go")
    expect(page.locator("#end-dialog .refused")).to_contain_text("a batch with defects")
    page.locator("#end-fields").get_by_label("Rejected").check()
    look(page, "end")
    page.evaluate("document.getElementById('toast').replaceChildren()")  # of the batch before
    page.click("#end-go")
    toast(page, "finished and saved")
    with table.run() as view:
        came, measured = view.outcome(), said_results(view.events())
        pieces = piece_defects(view.events())
    assert pieces == {1: ("skin burst",), 2: ()}
    assert (came.outcome, came.note) == ("rejected", "cooled too fast")
    assert came.defects == ("greasy", "fizzy")
    assert measured == [ResultRow(name="cook loss", value=12.4, unit="%")]
    page.click("#toast a")
    expect(page.locator("#run-came")).to_contain_text("rejected: greasy, fizzy")
    page.click("text=Change how it came out")
    expect(page.locator("#out-save")).to_be_visible()

    page.click("text=What was done")
    page.locator("#run-acts").get_by_role("button", name="Move: start of Pour").click()
    expect(page.locator("#move-time")).to_be_focused()
    at = "0:02" if page.locator("#move-time").input_value() == "0:01" else "0:01"
    page.keyboard.type(at)
    page.click("#move-go")
    toast(page, f"to {at}")
    expect(page.locator("#run-acts")).to_contain_text("first at 0:0")
    shoot(page, "run-corrected")
    assert violations(page) == []
    page.locator("#run-acts").get_by_role("button", name="Undo: start of Pour").click()
    toast(page, f"Taken back: start of Pour the fat in, {at}")
    expect(page.locator("#run-acts")).not_to_contain_text("Pour the fat in")
    with table.run() as view:
        assert [s.id for s in view.results().stages] == ["warm"]


def test_a_batch_goes_on_within_its_stage_after_a_kill_an_end_and_a_cut(
    page, opener, table, violations, shoot, eventually
):
    opener.may_fail = True
    begin(page)
    go_next(page, "Pour the fat in")
    run_id = table.folder.newest_run()
    table.end(signal.SIGKILL)
    is_in(page, "gone")
    table.begin()
    is_in(page, "recording")
    now_in(page, "Pour the fat in")
    assert eventually(lambda: "resumed" in table.kinds())

    table.end()  # as Ctrl-C does
    table.begin()
    is_in(page, "idle")
    expect(page.locator("#do-next")).to_contain_text("with the batch of ")
    page.keyboard.press("g")
    toast(page, "The batch goes on.")
    is_in(page, "recording")
    now_in(page, "Pour the fat in")
    assert table.folder.newest_run() == run_id

    table.end(signal.SIGKILL)
    table.begin(resume=False)
    is_in(page, "idle")
    expect(page.locator(".say")).to_contain_text("Go on with the batch of ")
    expect(page.locator(".more")).to_contain_text("interrupted in Pour the fat in")
    shoot(page, "go-on")
    assert violations(page) == []
    page.locator("#do-next.main").click()
    is_in(page, "recording")
    now_in(page, "Pour the fat in")
    assert table.folder.newest_run() == run_id
    go_next(page, "Set the skin")
